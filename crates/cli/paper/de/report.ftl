## Der Bericht zu einer Schachtelung

### Kopf

report-order = Auftrag { $order }, { $shop }
report-title = Auftrag { $order }
report-tab = { $order }: Zuschnittbericht
due = fällig am { $day }

### Die Antwort

on-sheets = { $n ->
    [one] { $n } Platte
   *[other] { $n } Platten
}
on-remnants = { $n ->
    [one] { $n } Reststück
   *[other] { $n } Reststücken
}
on-nothing = nichts
two-things = { $a } und { $b }
placed-one = Das eine Teil ist untergebracht, auf { $from }.
placed-all = Alle { $n } Teile sind untergebracht, auf { $from }.
placed-some = { $placed } von { $wanted } Teilen sind untergebracht, auf { $from }. { $missing ->
    [one] { $missing } fehlt, siehe unten.
   *[other] { $missing } fehlen, siehe unten.
}
yield = Ausbeute
net-yield = Nettoausbeute
ceiling = Grenze
net = Netto
proven-ceiling = bewiesene Obergrenze { $share }
net-ceiling = bewiesene Obergrenze { $share }, Aufgehobenes abgezogen
spend = Materialkosten
spend-of = Kosten { $currency }
proven-least = bewiesene Untergrenze { $least } { $currency }
gain-none = , also ist nichts mehr zu holen
gain-most = , also sind höchstens { $most } zu holen
kits-complete = Bausätze komplett
n-of-m = { $n } von { $m }
kits-after-sheet = { $kits } nach Platte { $sheet }
kits-on-none = auf keiner Platte einer
repeat-same = Startwert { $seed }; gleiche Eingaben und gleicher Startwert ergeben den gleichen Plan.
repeat-stopped = Startwert { $seed }; die Suche wurde vorzeitig beendet, ein neuer Lauf kann einen anderen Plan ergeben.
choice-same = die Kosten sind dieselben wie ohne
choice-more = die Kosten sind um { $by } { $currency } höher als die { $without } ohne
choice-less = die Kosten sind um { $by } { $currency } niedriger als die { $without } ohne
choice-missing = , und { $now ->
    [one] es fehlt { $now } Teil
   *[other] es fehlen { $now } Teile
} statt { $then }
choice-kits = Komplette Bausätze ohne diese Wahl: { $after }.
take = Zu holen
qty = Stk
what = Was
material = Material
stands = Standort
sheet-no = Platte Nr.
parts = Teile
not-placed = Nicht untergebracht
part = Teil
kit = Bausatz
why = Grund
why-too-large = es passt auf keine Platte und kein Reststück aus { $material } auf der Maschine „{ $machine }“
why-face-or-grain = keine Platte und kein Reststück aus { $material } hat die nötigen Gutseiten oder die nötige Laufrichtung
why-saw-limits = die Maschine „{ $machine }“ kann es mit ihren Schnittstufen und Schnittlängen nicht herstellen
why-too-narrow = es ist schmaler als der schmalste Streifen, den die Maschine „{ $machine }“ hält
why-cannot-trim = die Maschine „{ $machine }“ kann kein Stück { $material }, auf das es passt, besäumen: der Schnitt ist länger als ihr längster
why-stopped = die Suche wurde beendet, bevor es an der Reihe war; noch einmal länger laufen lassen
why-used-up = alles an { $material }, worauf es passt, ist aufgebraucht; zukaufen oder freigeben
why-passed-over = alles an { $material }, worauf es passt, ist aufgebraucht, bis auf das, woraus die Maschine „{ $machine }“ es nicht schneiden kann ({ $sheets }): ein Schnitt oder Besäumschnitt wäre länger als ihr längster oder ein Streifen schmaler, als sie hält
why-bed = alles an { $material }, worauf es passt, ist größer als das Bett der Maschine „{ $machine }“, und der Betrieb hat keine Säge, die es aufteilt
why-kept-clear = was die Maschine „{ $machine }“ frei braucht ({ $what }), lässt auf keiner Platte und keinem Reststück aus { $material } Platz dafür
why-turn = es passt nur so gedreht auf { $material }, wie "turn": "{ $turn }" es nicht zulässt; "turn": "{ $needed }" angeben, wenn es so gedreht werden darf
why-turn-grain = keine Platte und kein Reststück aus { $material } hat die nötige Laufrichtung, außer so gedreht, wie "turn": "{ $turn }" es nicht zulässt; "turn": "{ $needed }" angeben, wenn es so gedreht werden darf
sheets = Platten
kits = Bausätze
kits-head = Sätze
yield-head = Ausb.
kits-column = Sätze: Bausätze, die komplett sind, sobald diese Platte und alle davor geschnitten sind.
number-short = Nr.
cut-from = Aus
machine = Maschine
all = alle
remnant-name = Reststück { $id }
noticed = Bemerkt
noticed-reading = Beim Einlesen bemerkt

### Kosten

spend-sheets = Gekaufte Platten
spend-remnants = Verbrauchte Reststücke, zum Buchwert
spend-offcuts = Aufgehobene Abschnitte, zum Buchwert
spend-scrap = Abfall: Entsorgung abzüglich Wertstofferlös
no-plan-less = Kein Plan dieses Auftrags kann weniger kosten als
no-plan-less-than = Kein Plan dieses Auftrags kann weniger kosten als { $least }.

### Was bleibt

worth-keeping = Aufzuheben
none-kept = Kein Abschnitt erfüllt die Regeln zum Aufheben.
of-outline = { $size } Umriss
lies-on = Platte { $sheet }, ab { $x }; { $y }
identity = Id
size-in = Maß, { $unit }
area-in = Fläche, { $unit }
lies = Lage
value-of = Wert { $currency }
rectangle = Rechteck
outline = Umriss
place-at = { $x }; { $y }

### Eine Platte

size = Maß
mass = Masse
lot = Charge
cutting = Schnittaufwand
sheet-named = Platte { $number }: { $name }
about-mass = etwa { $mass }
not-yet-placed = noch ohne Platz
stands-in = Standort: { $place }
of-lot = Charge { $lot }
sheet-turned = liegt auf dem Bett der Maschine „{ $machine }“ um ein Viertel nach links gedreht, wie in der Schneiddatei: die Ecke oben links kommt auf den Nullpunkt
keep-off = freizuhalten: { $what }
sheet-yields = Ausbeute { $yield }, höchstens { $ceiling }, netto { $net }, Kosten { $spend } { $currency }
key = Kürzel
copies = Exemplare
note = Hinweis
voids-count = { $n ->
    [one] { $n } Aussparung
   *[other] { $n } Aussparungen
}
flaws-count = { $n ->
    [one] { $n } Fehlstelle
   *[other] { $n } Fehlstellen
}
machine-needs = was die Maschine frei braucht ({ $what })
sawn-to-size = { $machine }: auf Maß gesägt, Schnittfuge { $kerf }
blanks-first = zuerst { $saw }, in { $n ->
    [one] { $n } Rohling
   *[other] { $n } Rohlinge
}, dann { $then }
machine-gaps = { $machine }: Rand { $margin }, Abstand { $gap }, Schnittfuge { $kerf }
then-router = danach Fräse
in-window = { $n } im Fenster

### Schnittaufwand

cutting-length = { $length } Schnitte mit { $pierces ->
    [one] { $pierces } Einstich
   *[other] { $pierces } Einstichen
}, { $travel } Leerwege
cutting-marks = , { $length } Markierungen
cutting-time = , etwa { $time }
cutting-path = ; die Datei enthält die Werkzeugbahn
cutting-tabs = , mit { $n ->
    [one] { $n } Haltesteg
   *[other] { $n } Haltestegen
}
cutting-skins = , { $n ->
    [one] { $n } Teil
   *[other] { $n } Teile
} auf dünnem Restboden
cutting-not-held = ; { $n ->
    [one] { $n } Teil ist
   *[other] { $n } Teile sind
} zu klein für Haltestege, anders halten
cutting-no-lead = ; { $n ->
    [one] { $n } Schnitt beginnt
   *[other] { $n } Schnitte beginnen
} aus Platzmangel auf der Kante
seconds = { $s } s
minutes = { $m } min
minutes-seconds = { $m } min { $s } s

### An der Säge

saw-line = Säge: { $summary }
saw-summary = { $cuts ->
    [one] { $cuts } Schnitt
   *[other] { $cuts } Schnitte
} mit { $settings ->
    [one] { $settings } Anschlageinstellung
   *[other] { $settings } Anschlageinstellungen
} und { $turns ->
    [one] { $turns } Richtung
   *[other] { $turns } Richtungen
}, { $length } gesägt
saw-summary-time = , etwa { $time }
at-the-saw-time = An der Säge
at-the-saw-about = An der Säge, etwa
saw-time-about = etwa { $time }
saw-time-of = { $cuts ->
    [one] { $cuts } Schnitt
   *[other] { $cuts } Schnitte
} auf { $sheets ->
    [one] { $sheets } Platte
   *[other] { $sheets } Platten
}, ohne Beschicken und Einrichten
saw-time-placeholders = ; nach Platzhaltern
saw-alike = geschnitten wie { $n ->
    [one] Platte
   *[other] Platten
} { $numbers }
saw-stacked = { $alike }: je { $n } im Paket
saw-rip = längs
saw-cross = quer
saw-trim-to = besäumen auf { $length }
saw-trim = Besäumschnitt
saw-stock = Rohplatte
saw-again = P{ $n }:
saw-part = Teil { $name }
saw-part-router = Teil { $name }, zur Fräse
saw-blank = Rohling { $n }:
saw-offcut = Abschnitt { $id }, ins Restelager
saw-scrap = Abfall
cut-across-y = y { $at }, x { $from } bis { $to }
cut-across-x = x { $at }, y { $from } bis { $to }
cut = Schnitt
stage = Stufe
centre-line = Mittellinie
on-the-table = Auf dem Tisch
way = Richtung
fence = Anschlag
at-the-fence = Am Anschlag
beyond = Dahinter

### Sicherheitshinweise

cautions = Sicherheitshinweise
caution-closing = Örtliche Vorschriften, die Betriebsanleitung des Maschinenherstellers und das Sicherheitsdatenblatt des Materials gehen vor. Für diese Arbeit ausgebildete Personen entscheiden; diese Hinweise und Zahlen ersetzen keine Gefährdungsbeurteilung.
caution-saw = Plattensäge
caution-saw-hood = Schutzhaube über dem Blatt und Spaltkeil angebracht. Nicht in der Schnittebene stehen, Schiebestock benutzen, nie ein Stück nur mit der Hand führen, breite Stücke und Abschnitte abstützen, bis das Blatt steht.
caution-saw-gloves = Keine Handschuhe in der Nähe des laufenden Blatts.
caution-saw-carry = Schnittfeste Handschuhe zum Tragen von Platten und Abschnitten; die Kanten sind scharf.
caution-saw-fractions = Längen auf diesen Papieren sind auf 1/{ $parts } in gerundet; ein danach gestellter Anschlag kann 1/{ $off } in daneben liegen. Genau stehen sie in cuts.csv und parts.csv.
caution-saw-narrow = Das schmalste gesägte Teil ist { $part } mit { $width } { $unit }. Prüfen, ob die Säge es halten kann.
caution-router = Fräse
caution-router-protection = Augen- und Gehörschutz, Absaugung läuft, das Stück ringsum gespannt.
caution-router-gloves = Keine Handschuhe, weiten Ärmel oder offenen Haare in der Nähe der laufenden Spindel.
caution-router-unload = Schnittfeste Handschuhe zum Abräumen; gefräste Kanten sind scharf.
caution-router-dust = Feiner Aluminiumstaub brennt. Von Holzstaub und Funken fernhalten und mit dafür gebautem Gerät absaugen.
caution-router-small = Kleine Teile können sich beim letzten Schnitt lösen: Haltestege oder einen dünnen Restboden stehen lassen oder anders halten ({ $parts }).
caution-laser = Laser
caution-laser-alone = Den Laser beim Schneiden nie allein lassen und nie eine Verriegelung überbrücken: der Strahl ist unsichtbar. Absaugung und Blasluft an, Rost sauber, Löscher zur Hand.
caution-laser-material = Nur das Material, das bei der Platte steht. PVC, Vinyl und andere chlorhaltige Kunststoffe setzen Chlorwasserstoff frei, und ein Kunststoff, den niemand benennen kann, zählt dazu; auch Schutzfolien prüfen. Verbundplatten mit Kunststoffkern brennen und tropfen, ihre Deckschichten werfen den Strahl zurück.
caution-laser-wood = Holzwerkstoffe verkohlen, schwelen und können unbemerkt weiterglimmen: Schnitt beobachten, Späne entfernen, später noch einmal nach dem Abfall sehen. Der Leim setzt reizende Dämpfe frei; Absaugung an.
caution-laser-acrylic = Acryl brennt, auch wenn der Strahl schon weiter ist: auf bleibende Flammen achten und Teile vor dem Stapeln abkühlen lassen.
caution-lifting = Heben und Tragen
caution-lifting-sheet = Am schwersten zu heben ist Platte { $number } ({ $id }) mit etwa { $mass }.
caution-lifting-part = Das schwerste Teil ist { $part } mit etwa { $mass }.
caution-lifting-two = { $reach } vor dem Körper gehalten, lässt die NIOSH-Hebegleichung einer Person etwa { $left } von ihren { $most }, Höhe und Drehung noch nicht gerechnet: zwei Personen, einen Wagen oder einen Plattenträger vorsehen.
caution-lifting-wide = Große Platten biegen sich und fangen Wind: zu zweit, mit Wagen oder Plattenträger lassen sie sich sicherer wenden.

### In den Zeichnungen

drawing-title = Platte { $number }: { $name }
drawing-parts = { $n ->
    [one] { $n } Teil
   *[other] { $n } Teile
} auf einem Stück von { $size } { $unit }
drawing-cuts = { $n ->
    [one] { $n } nummerierter Sägeschnitt
   *[other] { $n } nummerierte Sägeschnitte
}
drawing-zones = { $n ->
    [one] { $n } Bereich, den die Maschine frei braucht
   *[other] { $n } Bereiche, die die Maschine frei braucht
}
drawing-kept = { $n ->
    [one] { $n } Abschnitt zum Aufheben
   *[other] { $n } Abschnitte zum Aufheben
}
drawing-says = { $what }. Material { $material }. Die Tabelle darunter nennt die Teile.
drawing-offcut = Abschnitt { $id }, { $size } { $unit }
drawing-scrap = Abfall { $id }, { $size } { $unit }
drawing-keep = aufheben { $id }
drawing-flaw = Fehlstelle
drawing-void = Aussparung
drawing-zone = frei für die Maschine: { $why }
drawing-part = { $name }, Exemplar { $copy }: { $size } { $unit } ab { $x }; { $y }, { $turn }
drawing-as-drawn = wie gezeichnet
drawing-turned = um { $angle } Grad gedreht
drawing-kit = Bausatz { $n }
drawing-pinned = festgelegt
drawing-blank = Rohling { $n }
drawing-saw-cut = Sägeschnitt { $n }, Stufe { $stage }
drawing-grain = Laufrichtung

### Der Bericht am Bildschirm

skip-to-answer = Zur Antwort springen
contents = Inhalt
the-answer = Die Antwort
to-answer = Zur Antwort
which-and-why = Welche und warum
what-from-what = Was woraus geschnitten wird
take-one = Holen
sheet = Platte
sheet-number = Platte { $n }
sheet-of = Platte { $number } von { $of }: { $name }
yields = Ausbeute, netto, höchstens
way-up = Auflegen
millimetres = Millimetern
inches = Zoll
drawing-of = Zeichnung zu { $sheet }
drawing-caption = { $method }. Maße in { $unit }, Nullpunkt unten links; { $way }.
caption-turned = Liegt auf dem Bett der Maschine „{ $machine }“ um ein Viertel nach links gedreht, wie in der Schneiddatei: die Ecke oben links kommt auf den Nullpunkt.
caption-keep-off = Freizuhalten: { $what }.
caption-flaws = Fehlstellen sind kreuzweise schraffiert.
goes-to-rack = Ins Restelager, beschriftet wie in der Zeichnung (schraffiert):
parts-continued = Teile, Fortsetzung
cuts-by-centre-line = Sägeschnitte der Reihe nach, Mittellinien
cuts-continued = Sägeschnitte, Fortsetzung
where = Wo
at-the-saw = { $sheet }, an der Säge: { $summary }
saw-help = Das Stück liegt wie in der Zeichnung oben; die dicke Linie ist der Anschlag, die gestrichelte das Sägeblatt, getönt ist, was dahinter abfällt. Der Anschlag steht auf der Breite dessen, was zwischen Anschlag und Blatt liegt, in { $unit }.
fence-at = Anschlag
saw-gives = ergibt
saw-beyond = dahinter
complete-after = Komplett nach
on-sheets-no = Teile auf Platten
kits-caption = Jeder Bausatz, die Platten mit seinen Teilen und nach welcher er komplett ist
by-the-ticks = Nach den Häkchen
which-parts = welche Teile
single-parts = Einzelteile
kit-lacks = { $n ->
    [one] { $n } Teil fehlt
   *[other] { $n } Teile fehlen
}
parts-caption = Jedes Teil und wo seine Exemplare liegen
where-it-lies = Wo seine Exemplare liegen
copy = Exemplar
left-overs = Reste
left-overs-worth = Aufzuhebende Reste
offcuts-to-rack = Abschnitte, die ins Restelager kommen
label-help = Jeden mit seiner Id und dem Auftrag beschriften. Das Restelager vergibt die bleibende Nummer und das Etikett, wenn die Schachtelung gebucht wird.
shape = Form
lies-from = Liegt ab x; y
offcut = Abschnitt
missing-caption = Teile, die fehlen, und warum
spend-caption = Materialkosten Zeile für Zeile, { $currency }
spend-for = Wofür
made-by = Von panelwright aus dem geprüften Plan erstellt. Kürzel stehen auf jeder Platte für dasselbe Teil.

### Suche und Häkchen. Was mit # beginnt, wird auf der Seite eingesetzt.

search-and-progress = Suche und Fortschritt
search = Suche
search-help = Teil, Bausatz, Etikett, Platte, Reststück, Abschnitt; mit / hierher
search-found = Treffer: #n
search-none = Zu „#what“ ist nichts zu finden.
search-hides = Zeilen, die nicht zur Suche passen, sind ausgeblendet; Esc zeigt alle.
search-more = und #n weitere
tick-cut = geschnitten
tick-off = Von der Platte
tick-bench = An der Werkbank
ticks-progress = #n von #m Platten geschnitten
ticks-kits = Bausätze komplett: #n
ticks-all = Alle Platten sind geschnitten
ticks-clear = Alle Häkchen löschen
ticks-back = Häkchen zurückholen
ticks-unsaved = Dieser Browser merkt sich keine Häkchen: nach dem Neuladen sind sie weg
next-sheet = Als Nächstes:
kit-state-complete = komplett
kit-state-open = noch zu schneidende Platten: #n
kit-state-lacks = fehlende Teile: #n
