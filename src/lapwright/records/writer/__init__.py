"""The one way into the records: every write of the program is a function of this package.

Each takes the signature of the write; whatever stands inside one `transaction` is recorded together or not at all.
"""

from lapwright.records.faults import one_transaction as transaction
from lapwright.records.writer.access import (
    add_signing,
    add_token,
    forget_failures,
    grant_role,
    keep_form,
    note_failure,
    note_place_of_form,
    revoke_token,
    set_password,
)
from lapwright.records.writer.board import add_board_plan, put_board_setting
from lapwright.records.writer.care import (
    add_check,
    add_study,
    add_study_reading,
    file_study,
    put_standard,
    void_study,
)
from lapwright.records.writer.jig_moves import add_jig_move
from lapwright.records.writer.orders import add_note, add_order, add_person, change_order, move_wafer
from lapwright.records.writer.outcome import add_decision, add_document, add_verdicts
from lapwright.records.writer.plates import add_plate_entry, put_plate
from lapwright.records.writer.prices import add_price_list
from lapwright.records.writer.quotations import add_quotation
from lapwright.records.writer.readings import add_finding, add_reading, add_set, close_set, import_sets, void_set
from lapwright.records.writer.recipes import add_recipe_version, approve_recipe, lock_recipe, note_recipe_use
from lapwright.records.writer.shelf import add_calibration, add_carrier, put_gauge, put_jig, put_station
from lapwright.records.writer.shift import add_handover, add_look, take_handover
from lapwright.records.writer.streams import (
    add_portions,
    add_request,
    answer_request,
    begin_stream,
    drop_readings,
    end_stream,
    put_feed,
)
from lapwright.records.writer.supply import add_use, put_lot, rename_lot
from lapwright.records.writer.surfaces import add_surface
from lapwright.records.writer.weighings import add_weighing, void_weighing
from lapwright.records.writer.work import (
    add_bond,
    add_run,
    add_zero,
    change_stage,
    choose_route,
    decide_bond,
    end_run,
    judge_bond,
    replace_stages,
    replan_stage,
    undo_bond,
    void_zero,
)

__all__ = [
    "add_board_plan", "add_bond", "add_calibration", "add_carrier", "add_check", "add_decision", "add_document",
    "add_finding", "add_handover", "add_jig_move", "add_look", "add_note", "add_order", "add_person",
    "add_plate_entry", "add_portions", "add_price_list", "add_quotation", "add_reading", "add_recipe_version",
    "add_request",
    "add_run", "add_set", "add_signing", "add_study", "add_study_reading", "add_surface", "add_token", "add_use",
    "add_verdicts", "add_weighing", "add_zero", "answer_request", "approve_recipe", "begin_stream", "change_order",
    "change_stage", "choose_route", "close_set", "decide_bond", "drop_readings", "end_run", "end_stream",
    "file_study", "forget_failures", "grant_role", "import_sets", "judge_bond", "keep_form", "lock_recipe",
    "move_wafer", "note_failure", "note_place_of_form", "note_recipe_use", "put_board_setting", "put_feed",
    "put_gauge", "put_jig", "put_lot",
    "put_plate", "put_standard", "put_station", "rename_lot", "replace_stages", "replan_stage", "revoke_token",
    "set_password", "take_handover", "transaction", "undo_bond", "void_set", "void_study", "void_weighing", "void_zero",
]  # fmt: skip
