"""What a row of a signal list leaves open, put as questions by cause."""

from __future__ import annotations

import re

from powerbudget.lists.cells import Row
from powerbudget.lists.io_watts import SignalDraw
from powerbudget.lists.readers import RowReader
from powerbudget.lists.row_cells import text_of
from powerbudget.lists.rows import ListLine
from powerbudget.lists.signals import UNKNOWN, UNUSED
from powerbudget.lists.words import folded, word_set

LARGE_W = 5.0
"""Draw from which the hours of an output or bus device are asked (judgment) [W]."""
