## Estimates

estimate-title = Estimate, order { $order }
estimate-head = Estimate, order { $order }, { $shop }
estimate-as-it-stands = the order as it stands: { $words }
estimate-one-is = one is { $words }
estimate-as-ordered = as ordered
estimate-the-order = the order
estimate-cost = Cost
estimate-unit-cost = Unit cost
estimate-margin = Margin
estimate-price = Price
estimate-cost-of-one = Cost of one
estimate-cost-of-one-new = Cost of one, new sheets only
estimate-price-of-one = Price of one
estimate-with-rack = { $what } in { $currency }, with what is on the rack
estimate-new-only = { $what }, new sheets only
estimate-of-which-margin = { $what }, of which { $margin } margin
estimate-of-which-placeholder = { $what }, of which { $margin } margin, which is a placeholder
estimate-above-floor = Material spend at most so far above its proven floor
estimate-material = Material
estimate-no = no
estimate-refused = { $label }: no. { $why }
estimate-cannot = Cannot be made. { $why }
estimate-cannot-see-below = cannot be made: see below
estimate-taken = Taken: { $label }
estimate-remnants = remnants { $names }
estimate-in = { $label }, in { $currency }
estimate-line = Line
estimate-what = What
estimate-quantity = Quantity
estimate-from-to = { $from } to { $to }
estimate-by = Unit cost by
estimate-each-more = Each more
estimate-because = Because of
estimate-rises = Unit cost rises by { $by } from { $from } to { $to }: { $why }.
estimate-best = Best of these to quote: { $list }.
estimate-make-more = { $asked } cost no less than { $made }: make { $made } and keep { $rest } for stock.
estimate-masses = One weighs { $one }; the heaviest part is { $part } with { $mass }.
estimate-what-if = What if { $text }
estimate-what-if-no = No: { $why }
estimate-nothing-to-compare = The order as it is cannot be made, so there is nothing to compare.
estimate-more-or-less = Line, more or less
estimate-so-that-it-costs = so that it costs
estimate-so-that-one-costs = so that one costs
estimate-basis = What this rests on
estimate-set-them = Set them under 'costing' in the shop file.
estimate-lists-them = --every-line or --out lists them; set them under 'costing' in the shop file.
estimate-all-set = Every rate is set in the shop file.
estimate-placeholders = { $n ->
    [one] { $n } figure is a placeholder
   *[other] { $n } figures are placeholders
}, not set in the shop file
estimate-placeholders-share = { $placeholders }; { $share } of the cost of { $what } in { $label } ({ $resting } of { $cost } { $currency }) is worked out with at least one of them.
estimate-repeats = Every cell is nested and judged; seed { $seed }; the same inputs and seed give the same estimate.
estimate-stopped = Every cell is nested and judged; seed { $seed }; it was stopped early, so another run may differ.
estimate-cautions = Cautions

## Steps of the quantity curve

estimate-step-more = { $n } more { $sheet }
estimate-step-fewer = { $n } fewer { $sheet }
estimate-step-used-up = the remnants that help are used up
estimate-step-same = the same sheets
estimate-step-most = most by the line '{ $line }'

## Times, areas, masses

estimate-fact-saw = Saw, minutes
estimate-fact-router = Router, minutes
estimate-fact-laser = Laser, minutes
estimate-fact-set-ups = Set-ups, minutes
estimate-fact-operator = Operator, minutes
estimate-fact-bench = Bench, minutes
estimate-fact-taken = Stock taken, { $unit }
estimate-fact-parts = Parts, { $unit }
estimate-fact-kept = Offcuts kept, { $unit }
estimate-fact-scrap = Scrap, { $unit }
estimate-fact-heaviest = Heaviest piece, { $unit }
estimate-fact-above-floor = Material above floor

## Lines of the cost

estimate-cost-sheets = Sheets
estimate-cost-remnants = Remnants, at book value
estimate-cost-offcuts = Offcuts kept, at book value
estimate-cost-disposal = Disposal of scrap
estimate-cost-recycling = Recycling credit
estimate-cost-saw = Saw time
estimate-cost-router = Router time
estimate-cost-laser = Laser time
estimate-cost-set-ups = Set-ups
estimate-cost-labour = Operator: running, loading
estimate-cost-tools = Tools and consumables
estimate-cost-edges = Edge cleaning
estimate-cost-film = Film
estimate-cost-packing = Packing

## Rates that may be placeholders: what they are, and of what

estimate-rate-margin = margin
estimate-rate-learning = learning
estimate-rate-one-person = one person lifts
estimate-rate-operator = operator
estimate-rate-bench = bench
estimate-rate-packing-material = packing material
estimate-rate-packing-kit = packing a kit
estimate-rate-packing-part = packing a part
estimate-rate-machine = { $machine }: machine
estimate-rate-set-up = { $machine }: set-up
estimate-rate-loading-piece = { $machine }: loading a piece
estimate-rate-loading-part = { $machine }: loading a part
estimate-rate-attended = { $machine }: attended
estimate-rate-film = film on { $material }
estimate-rate-speed = { $material } on { $machine }: speed
estimate-rate-passes = { $material } on { $machine }: passes
estimate-rate-start = { $material } on { $machine }: each start
estimate-rate-tools = { $material } on { $machine }: tools
estimate-rate-edges = { $material } on { $machine }: edges
estimate-unit-of-the-price = of the price
estimate-unit-kg = kg
estimate-unit-an-hour = an hour
estimate-unit-a-kit = a kit
estimate-unit-minutes = min
estimate-unit-of-its-time = of its time
estimate-unit-a-square-metre = a m2
estimate-unit-speed = mm a min
estimate-unit-seconds = s
estimate-unit-a-metre = a m
estimate-unit-minutes-a-metre = min a m

## Before one material takes another's place

estimate-swap-brittle = { $material }: acrylic is brittle and grows 0.07 mm a metre and kelvin, three times as much as composite (suppliers' tables): look at the holes near edges and at long screwed panels.
estimate-swap-stiffness = { $new } has { $share } % of the bending stiffness of { $old }. A hint: core, edges and fixings are left out.
estimate-swap-stiffness-as = { $new } has { $share } % of the bending stiffness of { $old }; as stiff would be { $thickness }. A hint: core, edges and fixings are left out.
estimate-swap-thickness = Thickness { $from } to { $to }. { $found } Rebates, overlaps and inside dimensions do not show in an outline; check those too, against the measured thickness.
estimate-swap-no-slot = No slot or notch about { $width } wide was found.
estimate-swap-slots = Drawings to check, with slots or notches about { $width } wide: { $parts }.
estimate-swap-slot = { $part } ({ $widths })

## Sharing the cost over the parts

estimate-share-area = by the area of the parts
estimate-share-bounding = by the area of the rectangle round each part

## Lifting

estimate-lift-heaviest = { $label }: the heaviest piece is { $piece } with { $mass }, { $index } times what the NIOSH equation leaves one person for a wide sheet; the heaviest part { $part } has { $part-mass }, and one packed kit { $kit-mass }.
estimate-lift-equation = The equation starts from { $constant } and leaves { $limit } for a sheet held { $reach } from the body with sharp edges, seldom and without turning; it does not cover lifts by two. ISO 11228-1 starts from { $most } for most men at work, { $wider } and { $widest } for wider groups, less for reach, turning and repetition. Above that plan two people, a cart or a panel carrier.

## The estimate as a page

estimate-page-skip = Skip to the answer
estimate-page-contents = Contents
estimate-page-answer = The answer
estimate-page-what-if = What if
estimate-page-unit-cost = { $what }, { $currency }; below it the price, with { $margin } margin
estimate-page-unit-cost-placeholder = { $what }, { $currency }; below it the price, with { $margin } margin (a placeholder)
estimate-page-with-rack = With what stands on the rack, where that costs less; every sheet size is to be had in any number.
estimate-page-curve = Unit cost against quantity. Every mark is a nest that the judge has passed.
estimate-page-lines = Line by line, { $currency }
estimate-page-facts = Stock, times and masses
estimate-page-taken = What is taken
estimate-page-sheets = Sheets
estimate-page-remnants = Remnants
estimate-page-layouts = Layouts
estimate-page-report = report
estimate-page-steps = Steps of the quantity curve, { $currency }. { $best }
estimate-page-from = From
estimate-page-to = To
estimate-page-rises = rises { $by }
estimate-page-before = Before this takes the place of { $base }
estimate-page-shares = Cost of { $of } shared over its parts { $rule }, { $currency }
estimate-page-part = Part
estimate-page-kit = Kit
estimate-page-copies = Copies
estimate-page-share = Share
estimate-page-each-about = Each, about
estimate-page-all = All
estimate-page-more-or-less = More or less than the order as it is, { $currency }
estimate-page-made-by = Made by panelwright from judged nests. An estimate is no offer: prices, rates and stock change.
estimate-chart-name = Unit cost in { $currency } against quantity
estimate-chart-axis = Quantity (logarithmic); unit cost in { $currency }, lines join what was nested

## The cost of a nest, and what to buy

estimate-nest-cost = Cost of the nest, order { $order }, { $kits ->
    [0] no kits
    [one] { $kits } kit
   *[other] { $kits } kits
}, in { $currency }
estimate-buying-title = Buying list for { $orders }
estimate-buying-not-counted = not counted
estimate-buying-to-pay = To pay
estimate-buying-sheet = Sheet
estimate-buying-needed = Needed
estimate-buying-stock = Free
estimate-buying-buy = Buy
estimate-buying-each = Each
estimate-buying-left = Left
estimate-buying-remnants = Remnants used: { $names }.
estimate-buying-without = Without buying { $sheet } it would be { $amount }.
