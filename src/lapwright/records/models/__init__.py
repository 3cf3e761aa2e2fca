"""The tables. Read through `records.queries`, written through `records.writer`, by nobody else."""

from lapwright.records.models.access import ApiToken, Grant, LoginAttempt, SentForm, Signing
from lapwright.records.models.base import Change
from lapwright.records.models.board import BoardDraft, BoardPlan, BoardPlanner, BoardSetting
from lapwright.records.models.care import CheckStandard, GaugeCheck, GaugeStudy, StudyReading
from lapwright.records.models.chain import ChainLink
from lapwright.records.models.jig_moves import JigMove
from lapwright.records.models.measuring import Finding, Reading, ReadingSet
from lapwright.records.models.orders import Lot, Order, Wafer, WaferEvent
from lapwright.records.models.outcome import Document, Note, OddDecision, Verdict
from lapwright.records.models.people import Person
from lapwright.records.models.plates import Plate, PlateEntry
from lapwright.records.models.prices import PriceList
from lapwright.records.models.quotations import Quotation
from lapwright.records.models.recipes import Recipe, RecipeApproval, RecipeUse, RecipeVersion
from lapwright.records.models.route_searches import RouteSearch
from lapwright.records.models.shelf import Calibration, Carrier, Gauge, Jig, Station
from lapwright.records.models.shift import CleanCheck, Handover, HandoverTaken
from lapwright.records.models.streams import (
    Feed,
    LiveAnswer,
    LiveRequest,
    Stream,
    StreamBlock,
    StreamDrop,
    StreamEnd,
    StreamEvent,
    StreamTail,
)
from lapwright.records.models.supply import SupplyLot, SupplyUse
from lapwright.records.models.surfaces import Surface
from lapwright.records.models.work import Bond, Route, Run, Stage, Weighing, Zero

__all__ = [
    "ApiToken", "BoardDraft", "BoardPlan", "BoardPlanner", "BoardSetting", "Bond", "Calibration", "Carrier",
    "ChainLink", "Change", "CheckStandard",
    "CleanCheck", "Document", "Feed", "Finding", "Gauge", "GaugeCheck", "GaugeStudy", "Grant", "Handover",
    "HandoverTaken", "Jig", "JigMove", "LiveAnswer", "LiveRequest", "LoginAttempt", "Lot", "Note", "OddDecision",
    "Order", "Person", "Plate", "PlateEntry", "PriceList", "Quotation", "Reading", "ReadingSet", "Recipe",
    "RecipeApproval", "RecipeUse", "RecipeVersion", "Route", "RouteSearch", "Run", "SentForm", "Signing", "Stage",
    "Station", "Stream", "StreamBlock", "StreamDrop", "StreamEnd", "StreamEvent", "StreamTail", "StudyReading",
    "SupplyLot", "SupplyUse", "Surface",
    "Verdict", "Wafer", "WaferEvent", "Weighing", "Zero",
]  # fmt: skip
