## The report of a nest

### Its head

report-order = Order { $order }, { $shop }
report-title = Order { $order }
report-tab = { $order }: cutting report
due = due { $day }

### The answer

on-sheets = { $n ->
    [one] { $n } sheet
   *[other] { $n } sheets
}
on-remnants = { $n ->
    [one] { $n } remnant
   *[other] { $n } remnants
}
on-nothing = nothing
two-things = { $a } and { $b }
placed-one = The one part is placed, on { $from }.
placed-all = All { $n } parts are placed, on { $from }.
placed-some = { $placed } of { $wanted } parts are placed, on { $from }. { $missing ->
    [one] { $missing } is missing, see below.
   *[other] { $missing } are missing, see below.
}
yield = Yield
net-yield = Net yield
ceiling = Ceiling
net = Net
proven-ceiling = proven ceiling { $share }
net-ceiling = proven ceiling { $share }, kept offcuts taken off
spend = Spend
spend-of = Spend { $currency }
proven-least = proven least spend { $least } { $currency }
gain-none = , so nothing is left to gain
gain-most = , so at most { $most } is left to gain
kits-complete = Kits complete
n-of-m = { $n } of { $m }
kits-after-sheet = { $kits } after sheet { $sheet }
kits-on-none = none on any sheet
repeat-same = Seed { $seed }; the same inputs and seed give the same plan.
repeat-stopped = Seed { $seed }; the search was stopped early, so another run may give another plan.
choice-same = the spend is the same as without it
choice-more = the spend is { $by } { $currency } more than the { $without } without it
choice-less = the spend is { $by } { $currency } less than the { $without } without it
choice-missing = , and { $now ->
    [one] { $now } part is missing
   *[other] { $now } parts are missing
} instead of { $then }
choice-kits = Kits complete without it: { $after }.
take = Take
qty = Qty
what = What
material = Material
stands = Stands
sheet-no = Sheet no.
parts = Parts
not-placed = Not placed
part = Part
kit = Kit
why = Why
why-too-large = it fits on no sheet or remnant of { $material } on the { $machine }
why-face-or-grain = no sheet or remnant of { $material } has the good faces or the grain it needs
why-saw-limits = the { $machine } cannot make it within its stages and lengths
why-too-narrow = it is narrower than the least strip that the { $machine } holds
why-cannot-trim = the { $machine } cannot trim any { $material } it fits on: that cut is longer than its longest
why-stopped = the search was stopped before it came to it; run it again for longer
why-used-up = all { $material } that it fits on is used up; buy or free more
why-passed-over = all { $material } that it fits on is used up, but for what the { $machine } cannot cut it from ({ $sheets }): a cut or a trim would be longer than its longest, or a strip narrower than it holds
why-bed = all { $material } that it fits on is larger than the bed of the { $machine }, and the shop has no saw to break it down
why-kept-clear = what the { $machine } needs free ({ $what }) leaves no room for it on any sheet or remnant of { $material }
why-turn = it fits on { $material } only when turned in a way that its "turn": "{ $turn }" rules out; give it "turn": "{ $needed }" if it may be turned so
why-turn-grain = no sheet or remnant of { $material } has the grain it needs, unless it is turned in a way that its "turn": "{ $turn }" rules out; give it "turn": "{ $needed }" if it may be turned so
sheets = Sheets
kits = Kits
kits-head = Kits
yield-head = Yield
kits-column = Kits: complete once this sheet and all before it are cut.
number-short = No.
cut-from = Cut from
machine = Machine
all = all
remnant-name = remnant { $id }
noticed = Noticed
noticed-reading = Noticed while reading

### Spend

spend-sheets = Sheets bought
spend-remnants = Remnants taken, at book value
spend-offcuts = Offcuts kept, at book value
spend-scrap = Scrap: disposal less recycling credit
no-plan-less = No plan of this order can cost less than
no-plan-less-than = No plan of this order can cost less than { $least }.

### What is kept

worth-keeping = Worth keeping
none-kept = No offcut passes the keep rules.
of-outline = { $size } outline
lies-on = sheet { $sheet }, from { $x }, { $y }
identity = Id
size-in = Size, { $unit }
area-in = Area, { $unit }
lies = Lies
value-of = Value { $currency }
rectangle = rectangle
outline = outline
place-at = { $x }, { $y }

### One sheet

size = Size
mass = Mass
lot = Lot
cutting = Cutting
sheet-named = Sheet { $number }: { $name }
about-mass = about { $mass }
not-yet-placed = not yet placed
stands-in = stands: { $place }
of-lot = lot { $lot }
sheet-turned = lies turned on the bed of the { $machine }, by a quarter to the left, as in its cut file: the upper left corner comes to 0, 0
keep-off = keep off { $what }
sheet-yields = yield { $yield }, ceiling { $ceiling }, net { $net }, spend { $spend } { $currency }
key = Key
copies = Copies
note = Note
voids-count = { $n ->
    [one] { $n } void
   *[other] { $n } voids
}
flaws-count = { $n ->
    [one] { $n } flaw
   *[other] { $n } flaws
}
machine-needs = what the machine needs free ({ $what })
sawn-to-size = { $machine }: sawn to size, kerf { $kerf }
blanks-first = { $saw } first, into { $n ->
    [one] { $n } blank
   *[other] { $n } blanks
}, then { $then }
machine-gaps = { $machine }: margin { $margin }, gap { $gap }, kerf { $kerf }
then-router = then router
in-window = { $n } in a window

### How much cutting it is

cutting-length = { $length } of cuts with { $pierces ->
    [one] { $pierces } pierce
   *[other] { $pierces } pierces
}, { $travel } of moves between
cutting-marks = , { $length } of marks
cutting-time = , about { $time }
cutting-path = ; the file holds the tool's path
cutting-tabs = , with { $n ->
    [one] { $n } tab
   *[other] { $n } tabs
}
cutting-skins = , { $n ->
    [one] { $n } part
   *[other] { $n } parts
} left on a thin floor
cutting-not-held = ; { $n ->
    [one] { $n } part is
   *[other] { $n } parts are
} too small for tabs, hold otherwise
cutting-no-lead = ; { $n ->
    [one] { $n } cut begins
   *[other] { $n } cuts begin
} on its edge for want of room
seconds = { $s } s
minutes = { $m } min
minutes-seconds = { $m } min { $s } s

### At the saw

saw-line = saw: { $summary }
saw-summary = { $cuts ->
    [one] { $cuts } cut
   *[other] { $cuts } cuts
} with { $settings ->
    [one] { $settings } setting
   *[other] { $settings } settings
} of the fence and { $turns ->
    [one] { $turns } direction
   *[other] { $turns } directions
}, { $length } sawn
saw-summary-time = , about { $time }
at-the-saw-time = At the saw
at-the-saw-about = At the saw, about
saw-time-about = about { $time }
saw-time-of = { $cuts ->
    [one] { $cuts } cut
   *[other] { $cuts } cuts
} on { $sheets ->
    [one] { $sheets } sheet
   *[other] { $sheets } sheets
}, without loading and setting up
saw-time-placeholders = ; by placeholders
saw-alike = cut like { $n ->
    [one] sheet
   *[other] sheets
} { $numbers }
saw-stacked = { $alike }: { $n } lie on each other at once
saw-rip = rip
saw-cross = cross
saw-trim-to = trim to { $length }
saw-trim = trim
saw-stock = stock
saw-again = P{ $n }:
saw-part = part { $name }
saw-part-router = part { $name }, to router
saw-blank = blank { $n }:
saw-offcut = offcut { $id }, to rack
saw-scrap = scrap
cut-across-y = y { $at }, x { $from } to { $to }
cut-across-x = x { $at }, y { $from } to { $to }
cut = Cut
stage = Stage
centre-line = Centre line
on-the-table = On the table
way = Way
fence = Fence
at-the-fence = At the fence
beyond = Beyond

### Cautions

cautions = Cautions
caution-closing = Local codes, the manual of the machine's maker and the material's safety data sheet come first. People trained for this work decide; these notes and figures do not replace a risk assessment.
caution-saw = Panel saw
caution-saw-hood = Hood over the blade and riving knife in place. Stand out of the line of the blade, use push sticks, never guide a piece by hand alone, and support wide pieces and offcuts until the blade stands still.
caution-saw-gloves = No gloves near the turning blade.
caution-saw-carry = Cut-resistant gloves to carry sheets and offcuts; their edges are sharp.
caution-saw-fractions = Lengths on these papers are to the nearest 1/{ $parts } in, so a fence set by them may be 1/{ $off } in off; cuts.csv and parts.csv have them exactly.
caution-saw-narrow = The narrowest sawn part is { $part } at { $width } { $unit }. Make sure that the saw can hold it.
caution-router = Router
caution-router-protection = Eye and hearing protection, extraction running, the piece held down all round.
caution-router-gloves = No gloves, loose sleeves or open hair near the turning spindle.
caution-router-unload = Cut-resistant gloves to unload; routed edges are sharp.
caution-router-dust = Fine aluminium dust burns. Keep it apart from wood dust and away from sparks, and collect it with equipment made for it.
caution-router-small = Small parts may lift on the closing cut: leave tabs or a thin skin, or hold them otherwise ({ $parts }).
caution-laser = Laser
caution-laser-alone = Never leave the laser alone while it cuts, and never defeat an interlock: the beam is invisible. Extraction and air assist on, grid clean, extinguisher at hand.
caution-laser-material = Only the material named on the sheet. PVC, vinyl and other chlorinated plastics give off hydrogen chloride, and a plastic that nobody can name counts as one of them; look at masking films too. Composite with a plastic core burns and drips, and its skins reflect the beam.
caution-laser-wood = Wood boards char, smoulder and may glow on unseen: watch the cut, clear chips, look at the scrap bin again later. Their glue gives off irritating fumes; extraction on.
caution-laser-acrylic = Acrylic burns, and goes on burning when the beam has moved on: watch for flames that stay, and let parts cool before they are stacked.
caution-lifting = Lifting and carrying
caution-lifting-sheet = The heaviest to lift is sheet { $number } ({ $id }) with about { $mass }.
caution-lifting-part = The heaviest part is { $part } with about { $mass }.
caution-lifting-two = Held { $reach } from the body, the NIOSH lifting equation leaves one person about { $left } of its { $most }, before height and turning are counted: plan two people, a cart or a panel carrier.
caution-lifting-wide = Wide sheets bend and catch the wind: two people, a cart or a panel carrier make them safer to turn.

### In the drawings

drawing-title = Sheet { $number }: { $name }
drawing-parts = { $n ->
    [one] { $n } part
   *[other] { $n } parts
} on a piece of { $size } { $unit }
drawing-cuts = { $n ->
    [one] { $n } numbered saw cut
   *[other] { $n } numbered saw cuts
}
drawing-zones = { $n ->
    [one] { $n } area that the machine needs free
   *[other] { $n } areas that the machine needs free
}
drawing-kept = { $n ->
    [one] { $n } offcut to keep
   *[other] { $n } offcuts to keep
}
drawing-says = { $what }. Material { $material }. The table below lists the parts.
drawing-offcut = offcut { $id }, { $size } { $unit }
drawing-scrap = scrap { $id }, { $size } { $unit }
drawing-keep = keep { $id }
drawing-flaw = flaw
drawing-void = void
drawing-zone = kept clear for the machine: { $why }
drawing-part = { $name }, copy { $copy }: { $size } { $unit } from { $x }, { $y }, { $turn }
drawing-as-drawn = as drawn
drawing-turned = turned by { $angle } degrees
drawing-kit = kit { $n }
drawing-pinned = pinned
drawing-blank = blank { $n }
drawing-saw-cut = saw cut { $n }, stage { $stage }
drawing-grain = grain

### The report as a screen

skip-to-answer = Skip to the answer
contents = Contents
the-answer = The answer
to-answer = To the answer
which-and-why = Which and why
what-from-what = What to cut from what
take-one = Take
sheet = Sheet
sheet-number = Sheet { $n }
sheet-of = Sheet { $number } of { $of }: { $name }
yields = Yield, net, at most
way-up = Way up
millimetres = millimetres
inches = inches
drawing-of = Drawing of { $sheet }
drawing-caption = { $method }. Lengths in { $unit }, 0, 0 at the lower left; { $way }.
caption-turned = On the bed of the { $machine } it lies turned by a quarter to the left, as in its cut file: the upper left corner comes to 0, 0.
caption-keep-off = Keep off { $what }.
caption-flaws = Flaws are cross-hatched.
goes-to-rack = To the rack, labelled as in the drawing (hatched):
parts-continued = Parts, continued
cuts-by-centre-line = Saw cuts in order, by centre line
cuts-continued = Saw cuts, continued
where = Where
at-the-saw = { $sheet }, at the saw: { $summary }
saw-help = The piece lies as in the drawing above; the thick line is the fence, the dashed one the blade, shaded is what falls off beyond it. The fence stands at the width of what lies between fence and blade, in { $unit }.
fence-at = fence
saw-gives = gives
saw-beyond = beyond
complete-after = Complete after
on-sheets-no = Parts on sheets
kits-caption = Every kit, the sheets that hold its parts and after which it is complete
by-the-ticks = By the ticks
which-parts = which parts
single-parts = Single parts
kit-lacks = { $n ->
    [one] { $n } part is missing
   *[other] { $n } parts are missing
}
parts-caption = Every part and where its copies lie
where-it-lies = Where its copies lie
copy = copy
left-overs = Left-overs
left-overs-worth = Left-overs worth keeping
offcuts-to-rack = Offcuts that go to the rack
label-help = Mark each with its identity and the order. The rack gives it a lasting number and a label when the nest is booked.
shape = Shape
lies-from = Lies from x, y
offcut = Offcut
missing-caption = Parts that are missing, and why
spend-caption = Spend line by line, { $currency }
spend-for = For
made-by = Made by panelwright from the judged plan. Key letters stand for the same part on every sheet.

### Search and ticks. What begins with # is filled in on the page.

search-and-progress = Search and progress
search = Search
search-help = part, kit, label, sheet, remnant, offcut; press / to come here
search-found = Found: #n
search-none = Nothing is found for "#what".
search-hides = Rows that do not match the search are hidden; Esc shows all.
search-more = and #n more
tick-cut = cut
tick-off = Off the sheet
tick-bench = At the bench
ticks-progress = #n of #m sheets cut
ticks-kits = kits complete: #n
ticks-all = All sheets are cut
ticks-clear = Clear all ticks
ticks-back = Bring the ticks back
ticks-unsaved = This browser keeps no ticks: they are gone after a reload
next-sheet = Next:
kit-state-complete = complete
kit-state-open = sheets to cut: #n
kit-state-lacks = parts missing: #n
