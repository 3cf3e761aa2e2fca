"""What leaves the house: certificate, traveller, and the drawings that pages and documents share.

Data in, text or bytes out; nothing here knows a record, a page or a clock.
"""
