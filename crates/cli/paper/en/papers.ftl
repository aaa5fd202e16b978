## Traveller, kit check list, labels

# What all of these say

fact-order = Order
fact-kits = Kits
fact-due = Due
fact-nest = Nest
fact-shop = Shop
nest-of-seed = { $digest }, seed { $seed }
paper-due = due { $day }
paper-contents = Contents
paper-page-of = Page { $n } of { $of }
paper-sheet-of = Sheet { $n } of { $of }
paper-remnant = remnant { $id }
kit-number-of = Kit { $n } of { $of }
single-part = Single part
for-kits = { $many ->
    [one] for kit { $kits }
   *[other] for kits { $kits }
}
for-kits-of = { $many ->
    [one] for kit { $kits } of { $kit }
   *[other] for kits { $kits } of { $kit }
}
for-singles = { $n ->
    [one] one ordered singly
   *[other] { $n } ordered singly
}
paper-then-router = then to the router

# Labels

label-title = Labels of order { $order }
label-how-to-print = Print at 100 % (actual size) without margins, headers and footers, on paper of { $page } { $unit }. Try it on plain paper and hold it against the labels first.
label-none = There is nothing to label.
label-part = part
label-kit = kit
label-offcut = offcut
label-remnant = remnant
label-copy = { $part }, copy { $copy }
label-order = Order { $order }
label-order-sheet = Order { $order }, sheet { $sheet } of { $of }
label-incomplete = { $n ->
    [one] INCOMPLETE: one part is missing
   *[other] INCOMPLETE: { $n } parts are missing
}
label-rack-number = Rack number: R-________
label-nest = Nest { $digest }
label-left-of = Left of sheet { $sheet }: { $stock }
label-remnants-title = Labels of remnants
label-not-rectangular = not rectangular
label-voids = { $n ->
    [one] 1 void
   *[other] { $n } voids
}
label-flaws = { $n ->
    [one] 1 flaw
   *[other] { $n } flaws
}
label-grain = grain along { $side } { $unit }
label-lot = lot { $lot }
label-logged = logged { $day }
label-faces = { $faces ->
    [0] no good face
    [1] good face up
   *[other] both faces good
}

# Kit check list

check-title = Kit check list, order { $order }
check-skip = Skip to the panels
check-how = Lay out the kit, compare each panel with its picture, good face towards you, then tick and initial the box of that kit. Close a parcel only when every box of its number is ticked.
check-how-measure = Measure the first of each panel and write it down; lay the others on it. Places count from the left (→) and the lower edge (↑) of the panel as drawn: openings by their nearest edges, holes by their middles.
check-measured = measured
check-initials = initials
check-all = all
check-singles = Parts ordered singly
check-sum = { $kits ->
    [one] One kit of { $n } panels.
   *[other] { $kits } kits of { $n } panels each.
}
check-parcel = { $n ->
    [one] Parcel: the panel is in, counted and closed
   *[other] Parcel: all { $n } panels are in, counted and closed
}
check-lacks = { $n } not cut
check-thickness = { $thickness } { $unit } thick
check-picture = { $part }, { $size }, seen from its good face
check-not-alike = Do not confuse with
face-any = either face
face-one = one good face: towards you in the picture
face-both = both faces good
dimension-length = Length over all { $length }
dimension-width = Width over all { $length }
dimension-opening = { $n ->
    [one] Opening { $size }; { $at }
   *[other] { $n } openings { $size }; first and last { $at }
}
dimension-hole = { $n ->
    [one] Hole, diameter { $size }; { $at }
   *[other] { $n } holes, diameter { $size }; first and last { $at }
}
dimension-at = → { $x } ↑ { $y }
dimension-rounded = { $n ->
    [one] One corner rounded, radius { $radius }
   *[other] { $n } corners rounded, radius { $radius }
}
dimension-round = Round, diameter { $size }
dimension-cut-off = { $n ->
    [one] One corner cut off { $size }
   *[other] { $n } corners cut off { $size }
}
dimension-curve-out = { $n ->
    [one] Bulges out, radius { $radius }
   *[other] Bulges out { $n } times, radius { $radius }
}
dimension-curve-in = { $n ->
    [one] Curves in, radius { $radius }
   *[other] Curves in { $n } times, radius { $radius }
}
dimension-odd = Odd outline: lay it on its drawing at full size
dimension-cut = Cut away { $size }; { $at }
dimension-marks = { $n ->
    [one] One scored or engraved mark
   *[other] { $n } scored or engraved marks
}
alike-with = { $other }: { $by }
alike-of-kit = { $part } of { $kit }
alike-hand = this one is the other hand, a mirror image.
alike-material = the same shape, but of { $material }.
alike-size = this one differs by { $length } in length and { $width } in width ({ $unit }).
alike-openings = this one has { $its } { $its ->
    [one] opening
   *[other] openings
}, the other { $other }.
alike-shape = the same size, but openings or edges differ.
alike-marks = this one has { $its } { $its ->
    [one] mark
   *[other] marks
}, the other { $other }.
alike-good-face = the same shape, but other good faces are asked for.
alike-name = the same panel under another name.

# Traveller

traveller-title = Traveller, order { $order }
traveller-skip = Skip to the first step
traveller-missing = { $n ->
    [one] One part of the order is not in this nest, for want of stock; the report says which.
   *[other] { $n } parts of the order are not in this nest, for want of stock; the report says which.
}
traveller-cautions = Cautions
traveller-fetch = Fetch
traveller-fetch-intro = Check number, material and surface before you carry. Tick each line when it is done.
traveller-fetch-what = Sheets and remnants
traveller-fetch-line = { $many ->
    [one] { $n } x { $stock } ({ $material }), { $place }: sheet { $sheets }
   *[other] { $n } x { $stock } ({ $material }), { $place }: sheets { $sheets }
}
traveller-no-place = where it stands
traveller-saw = Saw
traveller-saw-intro = First, for it feeds router and laser. Each piece gets its label as it comes off.
traveller-router = Router
traveller-laser = Laser
traveller-router-and-laser = Router and laser, side by side
traveller-router-intro = Label each part as it comes off, kits in stacks of their own.
traveller-laser-intro = Stay with the laser while it cuts. Label each part as it comes off, kits in stacks of their own.
traveller-side-by-side = In this order. While one machine cuts, unload, label and load at the other, only as long as the laser stays in sight and its stop in reach; else one after the other. Kits in stacks of their own.
traveller-blank-of = Blank { $blank } of sheet { $n }
traveller-finish = Finish { $part }
traveller-finish-lay = Take the sawn parts, { $way }; lower left corner at the stop
traveller-link = drawing: report, sheet { $n }
traveller-take = Take { $stock }, { $place }: { $material }, { $size }, { $mass }
traveller-take-blank = Take the blank from step { $step }: { $material }, { $size }
traveller-lay = Lay it: { $how }
lay-any = either face up
lay-good-up = good face up
lay-both-good = either way up, both faces are good
lay-grain-along = grain from left to right
lay-grain-away = grain away from you
lay-turned = turned by a quarter to the left, as in its cut file
lay-as-drawn = as in the drawing
lay-flaws = voids and flaws where the drawing has them
traveller-stack = { $many ->
    [one] Cut like sheet { $sheets }: { $n } at once, one on the other
   *[other] Cut like sheets { $sheets }: { $n } at once, one on the other
}
traveller-saw-cuts = { $n ->
    [one] One cut
   *[other] { $n } cuts with { $settings } settings of the fence
}, one by one as in the report
traveller-saw-lines = { $n } cuts along the lines of the drawing, in their order
traveller-file = Load { $file }
traveller-cutting = Cut: { $length }, { $n ->
    [one] one pierce
   *[other] { $n } pierces
}
traveller-time = , about { $time }
traveller-tabs = Part the small pieces from their tabs or skin
traveller-marks = Look at what is scored or engraved before you unload
traveller-to-rack = To the rack: { $id }, { $size }; stick label { $id } on
traveller-blank-to = Blank { $n }, { $size }: to the { $machine }, step { $step }
complete-kits = { $many ->
    [one] Now complete: kit { $kits }.
   *[other] Now complete: kits { $kits }.
}
complete-kits-of = { $many ->
    [one] Now complete: kit { $kits } of { $kit }.
   *[other] Now complete: kits { $kits } of { $kit }.
}
traveller-bench = Bench
traveller-bench-intro = Bring the parts over stack by stack, films on, chips brushed off first.
traveller-edges = Clean edges
traveller-edges-how = Break the edges of both faces, outside and in the openings: { $length } in all
traveller-edge-each = { $length } each
traveller-edges-laser = Laser-cut edges
traveller-edges-laser-how = Do not scrape them; wipe off dust and look for chips and cracks
traveller-marked = Marks
traveller-marked-how = Marks are there, on the right face, and clean; each stroke of a letter counts as one
traveller-lines = { $n ->
    [one] one mark
   *[other] { $n } marks
}
traveller-film = Protective film
traveller-film-on = Leave it on until the parcel is closed; lift it a finger's width where an edge is cleaned
traveller-film-off = Take it off at once where it is burnt or has chips under it: they scratch
traveller-packing = Pack, kit by kit
traveller-packing-intro = With the check list beside you. Films on, heavy panels below, good faces towards each other.
traveller-pack-kit = { $n ->
    [one] { $kit }: one part each
   *[other] { $kit }: { $n } parts each
}
traveller-pack-line = Kit { $n }: { $parts ->
    [one] one part
   *[other] { $parts } parts
}, { $mass }, from step { $step } on; counted, checked, labelled
traveller-pack-open = Kit { $n } stays open: { $parts } parts, { $missing } missing
traveller-pack-singles = Ordered singly
traveller-pack-single = { $n } x { $part }, { $mass }; counted, checked, labelled
traveller-afterwards = Afterwards
traveller-book = Book nest { $digest }
traveller-book-how = Book what was cut (panelwright book), so that stock and rack stay true
traveller-book-labels = { $n ->
    [one] Write the number that the rack gives on the label of the offcut, and put it in its place
   *[other] Write the numbers that the rack gives on the labels of the { $n } offcuts, and put them in their places
}
traveller-book-spoiled = What went wrong is booked sheet by sheet as spoiled; the parts to cut again come from there
