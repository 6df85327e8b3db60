"""What a list can leave open: one cause, what is found, and what is done about it.

The words of every question of an import stand here once.  ``{what}`` is what the
reader puts in, ``{n}`` the number of rows.
"""

from __future__ import annotations

import re

_TEXT = """
# Files and sheets
formula: Formulas without a saved value
    Calculated here; open the file in a spreadsheet program and save it to confirm.
formula-unknown: Formulas without a saved value that cannot be calculated
    Read as empty. Open the file in a spreadsheet program and save it, or type the values.
comma: A comma may part thousands or decimals
    Read as thousands, the higher reading; confirm.
old-sheet: Sheets are hidden or look superseded
    Left out; confirm.
unread-sheet: Sheets hold neither signals nor loads
    Not read; name its columns in the mapping if it counts.
two-columns: Two columns have the same meaning
    The other one was taken; name the one that counts in the mapping.
unread-column: Columns of figures are not understood
    Not read. Name in the mapping what bears on watts, pieces or time, else "other".
quantity-of: Quantities of what?
    Read as pieces; confirm, or name the column "other" in the mapping.
empty-column: Columns are empty on all rows
    Nothing was read from them; fill them or leave them out.
more-cells: Rows have more cells than the table has heads
    Read as they stand; put texts and numbers that hold the delimiter in quotes.
several-sites: Sheets are titled as different sites
    All were read into one site; import the lists of each site by themselves.
summary: Summaries differ from the rows that they sum
    The rows count; check the summary.
labels-beside: Sheets of labels and values stand beside a list
    Their loads were counted; leave them out if they sum or repeat the list.
outside: Lines outside of the tables state figures or leave loads open
    Not read; add what bears on the loads, or confirm that it is in them.
times-of: Titles or headings state how often their rows come
    Each row counted as it stands; multiply its quantity where it is of one.
further-kind: Remarks name a kind of signal that their row does not have
    Not counted; add a row for the further signal, or correct the kind.
passed-over: Texts state figures that the columns do not
    Not counted; put into a column what counts.
scope: Words say that rows may be absent, optional or not on this bus
    Counted; leave out what will not be there on the first day.
# What a row of signals is
vague: '{what}' on {n} rows says neither kind nor direction
    Not counted; state AI, AO, DI or DO for them.
no-signal: {n} rows have a tag but no signal
    Not counted; state the signal, or NONE where there is none.
direction: Signals without a direction
    Read as inputs or outputs from the letters of the tag; state AI, AO, DI or DO.
implied: Signals that imply a kind without stating it
    Counted as they imply; state AI, AO, DI or DO.
several-in-cell: Cells that name several points
    Counted as many as named; confirm.
several-in-tag: Tags name several points but the list has no quantity
    Counted as many as named; add a quantity column or split the rows.
bus-point: Points that reach the controller over a bus
    Counted as serial devices, not as channels of a card; confirm.
head-transmitter: Temperature signals with a transmitter
    Counted as AI (4-20 mA), not as RTD or thermocouple inputs; confirm.
refined: Stated kinds that the signal column makes more exact
    Counted as the signal column says; confirm.
pulse-output: Outputs that pulse
    Counted as DO, not as pulse inputs: the stated direction holds.
address: Addresses of whole words were read as analog channels
    Give the list of cards, or state AI or AO.
blank-tag: Rows with a signal but no tag
    Counted as points without a tag; type the tags.
blank-channel: Channels without a tag and a description
    Counted as spares; type the tags of those that are connected.
tag-error: The tag is an error of a formula, the row is not counted
    Type the tag.
spare-kind: Spare rows do not say which kind of channel
    Not counted; state AI, AO, DI or DO.
count-words: Cells under a kind of signal hold words, not numbers
    Counted as many points as they name; confirm.
quantity: The quantity is no whole number
    Read as the number it begins with, rounded up, or as 1; correct the cells.
quantity-zero: The quantity is 0
    Counted as no point; confirm.
registers: Counts under a bus column were read as registers of one device
    Counted as 1 device each; confirm, and say which devices share one port.
one-device: Rows share a bus address, a device or a tag
    Each device counted once; confirm.
registers-of: Registers of a bus under tags of their own
    Each tag counted as a device; state the address or the device of each register.
watts-no-signal: Rows without a signal state watts
    Not counted; add them as loads if this bus feeds them.
case: Tags differ by capital letters only
    Counted as two tags each; confirm.
twice: Rows stand twice
    Counted twice; delete one if it is the same point.
twins: Tags stand on two sheets
    Counted once; name the sheet that counts.
same-columns: Columns with one head say the same on every row
    Counted as a point each; leave one out if they mean one point.
counts-and-list: A table of counts stands beside a list of signals
    Both were counted; leave one out if they are the same points.
list-total: Totals of the list differ from its live rows
    The rows count; check the totals.
renamed: Tags that replace others
    Check that the old tag is gone and that the kind of signal is right.
# Marks and statuses
status-clash: Rows are struck out but their status says active
    Left out; correct the status or the strike-through.
struck: Rows are struck out
    Left out as deleted; confirm.
flagged: Rows are ticked in a column of deletions
    Left out as deleted; confirm.
by-description: The tag or description is marked, or says a status word only
    Left out as it says; confirm.
status-word: Status words that nobody knows
    Rows counted as live; write live, spare, deleted, future or hold.
status-none: Status cells say none or not used, where others say what is live
    Rows counted as live; write live, spare, deleted, future or hold.
flag-word: Cells of a column of ticks that say neither yes nor no
    Rows counted as live; write yes or no.
by-remark: Remarks begin with a status and say more
    Left out as they begin; confirm.
letter: Status letters without a legend
    Rows counted as live; state what the letters mean.
hidden: Hidden rows hold points
    Left out; show the row if it counts.
hold: Rows on hold
    Left out; add them if they will be there.
future: Rows marked as future
    Left out; add them if they will be there on the first day.
excluded: Rows marked out of scope
    Left out; confirm.
future-text: Descriptions speak of the future
    Counted as live; are they there on the first day?
out: Rows are struck out, hidden or marked
    Left out; confirm.
# Draws of a signal list
ac-device: Devices are fed with AC
    AC watts are not counted on the dc bus; state who feeds them, or watts and inverter.
no-watts: No watts are stated
    Figures of the library or assumed ones are taken and named; state the watts.
output-load: Outputs state no watts of what they drive
    Solenoids count as the coil of the library, others as nothing beyond the card; state the
    watts of what this bus feeds.
fail-position: Outputs state where the valve fails, not where it stands normally
    Counted as energized all the time, held away from that position; state the normal position.
watts-each: Watts stand beside a quantity
    Read as watts of one piece; confirm.
hours: Hours a day are not stated
    Counted by the normal state: on 24 h, off or pulsed 0 h; without one 24 h, alarm
    devices 0 h. State the hours.
remark-hours: Hours are taken from the remark
    Confirm, also for the longest night.
struck-figure: Figures are struck out on live rows
    Kept; delete or correct the cells.
supply-word: Words under the supply that name no supply
    Read as no supply beyond the card; confirm.
by-position: Outputs whose normal position says that they are de-energized
    Counted as de-energized; write energized or de-energized.
wetting: Currents of contacts stand in the list
    Taken for the wetting current of the card, counted once; state the watts of a sensor
    that draws more.
contact-rating: Ratings of contacts stand in remarks
    Not counted as draws; state the watts of what draws by itself.
loop-watts: Watts stand at two-wire devices, whose loops the rack counts
    Counted beside the loop; leave them out where they are those of the loop.
remark-word: Remarks on single rows that are not understood
    Rows counted as they stand; confirm that they are there and on this bus.
ne-nd: NE and ND were read as normally energized and normally de-energized
    Confirm.
unread-state: Normal states that cannot be read
    Counted as not stated; write normally open, normally closed, energized or de-energized.
unread: Cells of a power or current hold no figure of it
    Not counted; state W, or mA with volts.
no-volts: Currents without a voltage or unit
    Not counted; state V or W.
no-unit: Currents without a voltage or unit
    Not counted; state V or W.
no-unit-head: Column {what} states no unit
    Read as W; confirm.
duty: Duty cycles or hours that cannot be read
    Counted by the normal state; state a share up to 100 %, or hours a day.
ports: Bus devices state no port
    Which of them share one port?
voltages: Devices have different voltages
    Which is the bus, and what feeds the others?
device-twice: The schedule and the signal list both state a device
    Its draw was counted in both; leave one out if they are the same.
rack-twice: The schedule lists a controller or cards, and the signals bring a rack
    Both were counted; leave one out if they are the same.
# Schedules
contingency: The sheet adds a contingency
    Taken once, as contingency of the bus; not in the loads.
energy-time: Loads state watts and Wh/day but no time on
    The stated Wh/day count; confirm, or state h/day.
row-energy: Wh/day of a row disagree with its watts and hours
    The higher is taken; correct the row.
efficiency: Efficiencies stand beside the watts of loads
    Read as watts drawn, not divided by them; confirm, or state the watts drawn.
own-draw: The charge controller's self-consumption stands among the loads
    Left out; state it at the charge controller.
ac: AC loads without an inverter
    Written with an assumed efficiency of the inverter; state it and its standby draw, or that
    another source feeds them.
same-total: Two tables of loads come to the same watts
    Both were counted; leave one out if they are the same loads.
total: Totals of the sheet differ from the sum of its rows
    The rows count; check the totals.
maximum-only: Loads state a maximum only
    Counted at the maximum; state the typical power.
row-total: Watts of a row disagree with quantity x watts
    The higher is taken; correct the row.
two-powers: Columns of power do not agree
    The highest is taken; name the one that counts in the mapping.
va: Figures in VA: is the load AC or DC?
    Counted as W; state the watts.
shaft: Ratings in horsepower are power at the shaft
    Divided by the efficiency of the row, else an assumed one; state the watts drawn.
remark-others: Remarks say that others feed or bring loads whose watts are stated
    Counted; leave them out if they are not on this bus.
dc-side: Watts are stated with the inverter in them
    Kept, and not divided by its efficiency again; confirm.
diversity: Diversity is stated
    Energy and maximum are not lowered by it; confirm what it means.
diversity-used: Demand factors make the watts that the sheet states
    Energy counted times the factor, running and maximum watts without it; confirm.
several-powers: Cells state several powers
    The highest is taken, all the time it is on; state modes and times.
mode-times: Times of the modes do not add up to the hour (3600 s)
    Counted as written; correct them.
inverter-stated: An inverter whose efficiency is stated feeds AC loads
    The efficiency was used; state the standby draw, which is not in the loads.
inverter: An inverter feeds AC loads
    State its efficiency and its standby draw; standby is not in the loads.
note-open: Notes leave loads open
    Add them as loads, or confirm that there are none.
energy-only: Loads state Wh/day but no watts
    Spread over 24 h; state the watts.
blank-power: Rows have a name but no power
    Counted as nothing; state W, or 0.
time-unread: Times cannot be read
    Counted as 24 h a day; state h/day or %.
over-a-day: Loads are on for more than 24 h a day
    Counted as 24 h; correct the times.
part-day: Loads run for part of the day
    Confirm that the hours hold in the month with the least sun and the longest night.
pieces-each: Names state pieces and the watts are of each
    Counted as many as named; confirm.
pieces-all: Names or remarks state pieces but the list has no quantity
    The watts were taken as those of all pieces; state a quantity if they are of one.
three-phase: Currents of AC loads at a voltage between three phases
    Counted as V x A x 1.73; state the watts.
section-status: Headings say that rows are spare, future or out
    The rows below them were read by their own words; mark each row that does not count.
time-of-what: Minutes or seconds stand without what they are of
    Counted once a day; state them an hour, a day or a cycle.
several-times: Several columns state one time
    The highest duty, hours or number of cycles is taken, else the first; name in the mapping
    what counts.
part-week: Loads run on some days of the week
    Counted as a mean over the week; confirm that such days do not come in a row in the dark.
power-no-volts: Currents without a voltage
    Counted as unknown; state the voltage.
mode-shares: Draws are stated by mode, without the time of each
    Counted at the highest all day; state the share of each mode.
power-self: Loads are called fed by a loop or by themselves
    Nothing is added; a loop must stand in the signal list.
power-included: Loads are included in others
    Nothing is added; confirm.
power-others: Loads are left out: by others
    Left out; confirm that they are not on this bus.
power-negligible: Loads are called negligible
    Nothing is added; state a figure, if only 0.
power-tbc: Loads have no figure yet (TBC)
    Counted as unknown; state the watts.
power-no-unit: Figures without a unit
    Counted as unknown; state W, A or mA in the head.
power-unreadable: Cells of power cannot be read
    Counted as unknown; state the watts.
converters: {what}
    State the bus voltage, and efficiency and no-load power of each converter.
losses: Losses stand as a row of their own
    Left out of the loads; state the efficiency of the converter.
losses-in-rows: Losses stand as a row of their own
    The rows have an efficiency or losses of their own: left out, else counted twice.
results: Results of a sizing stand among the loads
    Left out; confirm.
source: Sources of power stand among the loads
    Left out; confirm.
line-unread: Lines of a device are not understood, or state a figure twice
    Not read, of two figures the higher; confirm that the loads hold without them.
several-named: Names or tags name several devices, the quantity other pieces
    Counted as the quantity says, or as many as named where it is blank; confirm.
duty-letter: Letters of duty were read by the legend of the list
    Counted as the legend says; confirm.
untimed: Loads state no time on
    Counted 24 h a day; state h/day or %.
rating: Watts of converters, supplies and chargers may be what they deliver
    Counted as drawn all day; state what they lose, in place of their rating.
part-out: Rows are parts of another row and add up to it
    Counted once, with the row that they belong to; confirm.
part-twice: Rows state parts of another row, or its sum
    Both were counted; leave one out if they are the same loads.
sum-row: Rows equal the sum of the rows above them
    Read as totals; confirm.
sum-like: Rows are named like sums, add up the rows above, or have no name
    Counted; leave them out if they sum others.
load-twice: Loads stand twice, with one tag or one name and watts
    Counted each time; leave one out if they are the same.
percent: Shares up to 1 under '{what}', and none above
    Read as fractions (0.5 = 50 %), the higher reading; confirm.
percent-rest: Shares up to 1 in a column of percentages without a unit
    Read as percent like the other rows (1 = 1 %); confirm.
run-share: A line of the sheet gives intermittent loads a share
    Counted as their share of the day; state the hours of each.
standby-pieces: Pieces on duty and standing by do not add up to the quantity
    Counted as the quantity says; correct one of the two.
standby: Loads that stand by for others
    Not counted in running, maximum and energy; state their hours if they run too.
operation-clash: Loads are called continuous but their time on is 0
    Counted 24 h a day, the higher reading; correct the row.
mean: Average watts of a row disagree with its watts and time
    The higher energy is taken; correct the row.
mean-each: Average watts stand beside a quantity
    Read as those of one piece; confirm.
mean-duty: Average watts stand beside a duty that they may hold already
    Counted all day, not times the duty; confirm.
"""
_ONE = re.compile(r"^([a-z-]+): (.*)\n((?: {4}.*\n)+)", re.MULTILINE)


def _causes() -> dict[str, tuple[str, str]]:
    return {
        cause: (lead, " ".join(action.split()))
        for cause, lead, action in _ONE.findall(_TEXT)
    }


CAUSES = _causes()
"""Cause -> what is found, and what was assumed and is to be done [text]."""
