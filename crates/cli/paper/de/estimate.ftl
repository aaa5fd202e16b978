## Kalkulationen

estimate-title = Kalkulation, Auftrag { $order }
estimate-head = Kalkulation, Auftrag { $order }, { $shop }
estimate-as-it-stands = der Auftrag, wie er ist: { $words }
estimate-one-is = eine Einheit: { $words }
estimate-as-ordered = wie bestellt
estimate-the-order = Auftrag
estimate-cost = Kosten
estimate-unit-cost = Stückkosten
estimate-margin = Marge
estimate-price = Preis
estimate-cost-of-one = Stückkosten
estimate-cost-of-one-new = Stückkosten, nur neue Platten
estimate-price-of-one = Stückpreis
estimate-with-rack = { $what } in { $currency }, mit dem, was im Restelager steht
estimate-new-only = { $what }, nur neue Platten
estimate-of-which-margin = { $what }, davon { $margin } Marge
estimate-of-which-placeholder = { $what }, davon { $margin } Marge (ein Platzhalter)
estimate-above-floor = Materialaufwand höchstens so weit über der bewiesenen Untergrenze
estimate-material = Material
estimate-no = nein
estimate-refused = { $label }: nein. { $why }
estimate-cannot = Nicht machbar. { $why }
estimate-cannot-see-below = nicht machbar, siehe unten
estimate-taken = Verbraucht: { $label }
estimate-remnants = Reststücke { $names }
estimate-in = { $label }, in { $currency }
estimate-line = Posten
estimate-what = Was
estimate-quantity = Menge
estimate-from-to = { $from } auf { $to }
estimate-by = Stückkosten um
estimate-each-more = Jedes weitere
estimate-because = Wegen
estimate-rises = Die Stückkosten steigen um { $by } von { $from } auf { $to }: { $why }.
estimate-best = Von diesen Mengen am besten anzubieten: { $list }.
estimate-make-more = { $asked } kosten nicht weniger als { $made }: { $made } fertigen und { $rest } auf Lager nehmen.
estimate-masses = Eine Einheit wiegt { $one }; das schwerste Teil ist { $part } mit { $mass }.
estimate-what-if = Was wäre wenn: { $text }
estimate-what-if-no = Nein: { $why }
estimate-nothing-to-compare = Der Auftrag, wie er ist, lässt sich nicht fertigen; es gibt also nichts zu vergleichen.
estimate-more-or-less = Posten, mehr oder weniger
estimate-so-that-it-costs = Kosten damit
estimate-so-that-one-costs = Stückkosten damit
estimate-basis = Worauf das beruht
estimate-set-them = In der Betriebsdatei unter 'costing' festzulegen.
estimate-lists-them = --every-line oder --out listet sie auf; festgelegt werden sie in der Betriebsdatei unter 'costing'.
estimate-all-set = Alle Sätze stehen in der Betriebsdatei.
estimate-placeholders = { $n ->
    [one] { $n } Wert ist ein Platzhalter
   *[other] { $n } Werte sind Platzhalter
}, nicht in der Betriebsdatei festgelegt
estimate-placeholders-share = { $placeholders }; { $share } der Kosten (Menge: { $what }) in { $label }, also { $resting } von { $cost } { $currency }, sind mit mindestens einem davon gerechnet.
estimate-repeats = Jede Zelle ist geschachtelt und geprüft; Startwert { $seed }; gleiche Eingaben und gleicher Startwert ergeben dieselbe Kalkulation.
estimate-stopped = Jede Zelle ist geschachtelt und geprüft; Startwert { $seed }; die Suche wurde vorzeitig beendet, ein weiterer Lauf kann anders ausfallen.
estimate-cautions = Vorsicht

## Stufen der Mengenkurve

estimate-step-more = { $n } { $sheet } mehr
estimate-step-fewer = { $n } { $sheet } weniger
estimate-step-used-up = die Reststücke, die helfen, sind aufgebraucht
estimate-step-same = dieselben Platten
estimate-step-most = am meisten durch den Posten „{ $line }“

## Zeiten, Flächen, Massen

estimate-fact-saw = Säge, Minuten
estimate-fact-router = Fräse, Minuten
estimate-fact-laser = Laser, Minuten
estimate-fact-set-ups = Rüsten, Minuten
estimate-fact-operator = Bediener, Minuten
estimate-fact-bench = Werkbank, Minuten
estimate-fact-taken = Verbrauchtes Material, { $unit }
estimate-fact-parts = Teile, { $unit }
estimate-fact-kept = Aufgehobene Abschnitte, { $unit }
estimate-fact-scrap = Abfall, { $unit }
estimate-fact-heaviest = Schwerstes Stück, { $unit }
estimate-fact-above-floor = Material über der Untergrenze

## Posten der Kosten

estimate-cost-sheets = Platten
estimate-cost-remnants = Reststücke, zum Buchwert
estimate-cost-offcuts = Aufgehobene Abschnitte, zum Buchwert
estimate-cost-disposal = Entsorgung des Abfalls
estimate-cost-recycling = Gutschrift für Wertstoff
estimate-cost-saw = Sägezeit
estimate-cost-router = Fräszeit
estimate-cost-laser = Laserzeit
estimate-cost-set-ups = Rüsten
estimate-cost-labour = Bediener: Lauf, Beschicken
estimate-cost-tools = Werkzeug und Verbrauchsstoffe
estimate-cost-edges = Kanten säubern
estimate-cost-film = Schutzfolie
estimate-cost-packing = Verpacken

## Sätze, die Platzhalter sein können: was sie sind, und wovon

estimate-rate-margin = Marge
estimate-rate-learning = Lernrate
estimate-rate-one-person = eine Person hebt
estimate-rate-operator = Bediener
estimate-rate-bench = Werkbank
estimate-rate-packing-material = Verpackung
estimate-rate-packing-kit = einen Bausatz verpacken
estimate-rate-packing-part = ein Teil verpacken
estimate-rate-machine = { $machine }: Maschine
estimate-rate-set-up = { $machine }: Rüsten
estimate-rate-loading-piece = { $machine }: ein Stück auflegen
estimate-rate-loading-part = { $machine }: ein Teil auflegen
estimate-rate-attended = { $machine }: beaufsichtigt
estimate-rate-film = Folie auf { $material }
estimate-rate-speed = { $material } auf { $machine }: Vorschub
estimate-rate-passes = { $material } auf { $machine }: Durchgänge
estimate-rate-start = { $material } auf { $machine }: jeder Ansatz
estimate-rate-tools = { $material } auf { $machine }: Werkzeug
estimate-rate-edges = { $material } auf { $machine }: Kanten
estimate-unit-of-the-price = des Preises
estimate-unit-kg = kg
estimate-unit-an-hour = je Stunde
estimate-unit-a-kit = je Bausatz
estimate-unit-minutes = min
estimate-unit-of-its-time = ihrer Zeit
estimate-unit-a-square-metre = je m2
estimate-unit-speed = mm je min
estimate-unit-seconds = s
estimate-unit-a-metre = je m
estimate-unit-minutes-a-metre = min je m

## Bevor ein Material an die Stelle eines anderen tritt

estimate-swap-brittle = { $material }: Acrylglas ist spröde und dehnt sich um 0,07 mm je Meter und Kelvin, dreimal so viel wie Verbundplatte (Tabellen der Lieferanten): Löcher nahe an Kanten und lange verschraubte Platten ansehen.
estimate-swap-stiffness = { $new } hat { $share } % der Biegesteifigkeit von { $old }. Nur ein Anhalt: Kern, Kanten und Befestigungen sind nicht berücksichtigt.
estimate-swap-stiffness-as = { $new } hat { $share } % der Biegesteifigkeit von { $old }; gleich steif wären { $thickness }. Nur ein Anhalt: Kern, Kanten und Befestigungen sind nicht berücksichtigt.
estimate-swap-thickness = Dicke { $from } auf { $to }. { $found } Falze, Überdeckungen und Innenmaße sind einem Umriss nicht anzusehen; auch sie prüfen, und zwar mit der gemessenen Dicke.
estimate-swap-no-slot = Kein Schlitz und keine Ausklinkung von etwa { $width } Breite gefunden.
estimate-swap-slots = Zeichnungen mit Schlitzen oder Ausklinkungen von etwa { $width } Breite prüfen: { $parts }.
estimate-swap-slot = { $part } ({ $widths })

## Umlage der Kosten auf die Teile

estimate-share-area = nach der Fläche der Teile
estimate-share-bounding = nach der Fläche des Rechtecks um jedes Teil

## Heben

estimate-lift-heaviest = { $label }: das schwerste Stück ist { $piece } mit { $mass }, das { $index }-fache dessen, was die NIOSH-Gleichung einer Person bei einer breiten Platte zugesteht; das schwerste Teil { $part } hat { $part-mass }, ein verpackter Bausatz { $kit-mass }.
estimate-lift-equation = Die Gleichung geht von { $constant } aus und lässt { $limit } für eine scharfkantige Platte, die { $reach } vom Körper gehalten wird, selten und ohne Drehung; Heben zu zweit erfasst sie nicht. ISO 11228-1 geht von { $most } für die meisten Männer bei der Arbeit und von { $wider } und { $widest } für größere Gruppen aus, weniger bei Reichweite, Drehung und Wiederholung. Darüber zwei Personen, einen Wagen oder eine Plattentraghilfe einplanen.

## Die Kalkulation als Seite

estimate-page-skip = Zum Ergebnis springen
estimate-page-contents = Inhalt
estimate-page-answer = Das Ergebnis
estimate-page-what-if = Was wäre wenn
estimate-page-unit-cost = { $what }, { $currency }; darunter der Preis, mit { $margin } Marge
estimate-page-unit-cost-placeholder = { $what }, { $currency }; darunter der Preis, mit { $margin } Marge (ein Platzhalter)
estimate-page-with-rack = Mit dem, was im Restelager steht, wo das weniger kostet; jede Plattengröße ist in beliebiger Zahl zu haben.
estimate-page-curve = Stückkosten über der Menge. Jede Marke ist eine Schachtelung, die der Prüfung standgehalten hat.
estimate-page-lines = Posten für Posten, { $currency }
estimate-page-facts = Material, Zeiten und Massen
estimate-page-taken = Was verbraucht wird
estimate-page-sheets = Platten
estimate-page-remnants = Reststücke
estimate-page-layouts = Schnittbilder
estimate-page-report = Bericht
estimate-page-steps = Stufen der Mengenkurve, { $currency }. { $best }
estimate-page-from = Von
estimate-page-to = Auf
estimate-page-rises = steigt um { $by }
estimate-page-before = Bevor dies an die Stelle von { $base } tritt
estimate-page-shares = Kosten, auf die Teile umgelegt { $rule }, { $currency } (Menge: { $of })
estimate-page-part = Teil
estimate-page-kit = Bausatz
estimate-page-copies = Anzahl
estimate-page-share = Anteil
estimate-page-each-about = Je Stück, etwa
estimate-page-all = Alle
estimate-page-more-or-less = Mehr oder weniger als der Auftrag, wie er ist, { $currency }
estimate-page-made-by = Erstellt von panelwright aus geprüften Schachtelungen. Eine Kalkulation ist kein Angebot: Preise, Sätze und Bestand ändern sich.
estimate-chart-name = Stückkosten in { $currency } über der Menge
estimate-chart-axis = Menge (logarithmisch); Stückkosten in { $currency }, Linien verbinden, was geschachtelt wurde

## Was eine Schachtelung kostet, und was zu kaufen ist

estimate-nest-cost = Kosten der Schachtelung, Auftrag { $order }, { $kits ->
    [0] keine Bausätze
    [one] { $kits } Bausatz
   *[other] { $kits } Bausätze
}, in { $currency }
estimate-buying-title = Einkaufsliste für { $orders }
estimate-buying-not-counted = nicht gezählt
estimate-buying-to-pay = Zu zahlen
estimate-buying-sheet = Platte
estimate-buying-needed = Bedarf
estimate-buying-stock = Frei
estimate-buying-buy = Kaufen
estimate-buying-each = Einzelpreis
estimate-buying-left = Übrig
estimate-buying-remnants = Verwendete Reststücke: { $names }.
estimate-buying-without = Ohne { $sheet } zu kaufen, wären es { $amount }.
