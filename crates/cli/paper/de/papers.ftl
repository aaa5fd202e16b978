## Laufzettel, Prüfliste, Etiketten

# Was alle diese Papiere sagen

fact-order = Auftrag
fact-kits = Bausätze
fact-due = Termin
fact-nest = Schachtelung
fact-shop = Werkstatt
nest-of-seed = { $digest }, Startwert { $seed }
paper-due = Termin { $day }
paper-contents = Inhalt
paper-page-of = Seite { $n } von { $of }
paper-sheet-of = Platte { $n } von { $of }
paper-remnant = Reststück { $id }
kit-number-of = Bausatz { $n } von { $of }
single-part = Einzelteil
for-kits = { $many ->
    [one] für Bausatz { $kits }
   *[other] für die Bausätze { $kits }
}
for-kits-of = { $many ->
    [one] für Bausatz { $kits } von { $kit }
   *[other] für die Bausätze { $kits } von { $kit }
}
for-singles = { $n ->
    [one] eines einzeln bestellt
   *[other] { $n } einzeln bestellt
}
paper-then-router = dann zur Fräse

# Etiketten

label-title = Etiketten zu Auftrag { $order }
label-how-to-print = Mit 100 % (Originalgröße) und ohne Ränder, Kopf- und Fußzeilen drucken, auf Papier von { $page } { $unit }. Zuerst auf gewöhnlichem Papier probieren und gegen die Etiketten halten.
label-none = Es gibt nichts zu beschriften.
label-part = Teil
label-kit = Bausatz
label-offcut = Abschnitt
label-remnant = Reststück
label-copy = { $part }, Nr. { $copy }
label-order = Auftrag { $order }
label-order-sheet = Auftrag { $order }, Platte { $sheet } von { $of }
label-incomplete = { $n ->
    [one] UNVOLLSTÄNDIG: ein Teil fehlt
   *[other] UNVOLLSTÄNDIG: { $n } Teile fehlen
}
label-rack-number = Lagernummer: R-________
label-nest = Schachtelung { $digest }
label-left-of = Von Platte { $sheet }: { $stock }
label-remnants-title = Etiketten der Reststücke
label-not-rectangular = nicht rechteckig
label-voids = { $n ->
    [one] 1 Loch
   *[other] { $n } Löcher
}
label-flaws = { $n ->
    [one] 1 Fehlstelle
   *[other] { $n } Fehlstellen
}
label-grain = Maserung längs { $side } { $unit }
label-lot = Charge { $lot }
label-logged = eingelagert { $day }
label-faces = { $faces ->
    [0] keine gute Seite
    [1] gute Seite oben
   *[other] beide Seiten gut
}

# Prüfliste

check-title = Prüfliste, Auftrag { $order }
check-skip = Zu den Teilen springen
check-how = Den Bausatz auslegen, jedes Teil mit seinem Bild vergleichen, gute Seite zu Ihnen, dann das Kästchen dieses Bausatzes abhaken und abzeichnen. Ein Paket erst schließen, wenn alle Kästchen seiner Nummer abgehakt sind.
check-how-measure = Das erste Teil jeder Art messen und das Maß eintragen, die übrigen darauflegen. Lagen zählen von der linken (→) und der unteren Kante (↑) des Teils, wie es gezeichnet ist: bei Öffnungen bis zur nächsten Kante, bei Bohrungen bis zur Mitte.
check-measured = gemessen
check-initials = Kürzel
check-all = alle
check-singles = Einzeln bestellte Teile
check-sum = { $kits ->
    [one] Ein Bausatz mit { $n } Teilen.
   *[other] { $kits } Bausätze mit je { $n } Teilen.
}
check-parcel = { $n ->
    [one] Paket: das Teil ist darin, gezählt und geschlossen
   *[other] Paket: alle { $n } Teile sind darin, gezählt und geschlossen
}
check-lacks = { $n } nicht geschnitten
check-thickness = { $thickness } { $unit } dick
check-picture = { $part }, { $size }, auf die gute Seite gesehen
check-not-alike = Nicht verwechseln mit
face-any = Seite beliebig
face-one = eine gute Seite: im Bild vorn
face-both = beide Seiten gut
dimension-length = Länge über alles { $length }
dimension-width = Breite über alles { $length }
dimension-opening = { $n ->
    [one] Öffnung { $size }; { $at }
   *[other] { $n } Öffnungen { $size }; erste und letzte { $at }
}
dimension-hole = { $n ->
    [one] Bohrung, Durchmesser { $size }; { $at }
   *[other] { $n } Bohrungen, Durchmesser { $size }; erste und letzte { $at }
}
dimension-at = → { $x } ↑ { $y }
dimension-rounded = { $n ->
    [one] Eine Ecke gerundet, Radius { $radius }
   *[other] { $n } Ecken gerundet, Radius { $radius }
}
dimension-round = Rund, Durchmesser { $size }
dimension-cut-off = { $n ->
    [one] Eine Ecke abgeschrägt { $size }
   *[other] { $n } Ecken abgeschrägt { $size }
}
dimension-curve-out = { $n ->
    [one] Nach außen gewölbt, Radius { $radius }
   *[other] { $n } mal nach außen gewölbt, Radius { $radius }
}
dimension-curve-in = { $n ->
    [one] Nach innen gewölbt, Radius { $radius }
   *[other] { $n } mal nach innen gewölbt, Radius { $radius }
}
dimension-odd = Freie Form: auf die Zeichnung in voller Größe legen
dimension-cut = Ausgeschnitten { $size }; { $at }
dimension-marks = { $n ->
    [one] Eine geritzte oder gravierte Markierung
   *[other] { $n } geritzte oder gravierte Markierungen
}
alike-with = { $other }: { $by }
alike-of-kit = { $part } aus { $kit }
alike-hand = dieses hier ist das Gegenstück, spiegelbildlich.
alike-material = dieselbe Form, aber aus { $material }.
alike-size = dieses hier weicht um { $length } in der Länge und { $width } in der Breite ab ({ $unit }).
alike-openings = dieses hier hat { $its } { $its ->
    [one] Öffnung
   *[other] Öffnungen
}, das andere { $other }.
alike-shape = dieselbe Größe, aber andere Öffnungen oder Kanten.
alike-marks = dieses hier hat { $its } { $its ->
    [one] Linie
   *[other] Linien
}, das andere { $other }.
alike-good-face = dieselbe Form, aber andere gute Seiten verlangt.
alike-name = dasselbe Teil unter anderem Namen.

# Laufzettel

traveller-title = Laufzettel, Auftrag { $order }
traveller-skip = Zum ersten Schritt springen
traveller-missing = { $n ->
    [one] Ein Teil des Auftrags ist nicht in dieser Schachtelung, weil Material fehlt; der Bericht sagt, welches.
   *[other] { $n } Teile des Auftrags sind nicht in dieser Schachtelung, weil Material fehlt; der Bericht sagt, welche.
}
traveller-cautions = Vorsicht
traveller-fetch = Holen
traveller-fetch-intro = Nummer, Material und Oberfläche prüfen, bevor Sie tragen. Jede erledigte Zeile abhaken.
traveller-fetch-what = Platten und Reststücke
traveller-fetch-line = { $many ->
    [one] { $n } x { $stock } ({ $material }), { $place }: Platte { $sheets }
   *[other] { $n } x { $stock } ({ $material }), { $place }: Platten { $sheets }
}
traveller-no-place = wo es steht
traveller-saw = Säge
traveller-saw-intro = Zuerst, denn sie versorgt Fräse und Laser. Jedes Stück bekommt sein Etikett, sobald es abfällt.
traveller-router = Fräse
traveller-laser = Laser
traveller-router-and-laser = Fräse und Laser, nebeneinander
traveller-router-intro = Jedes Teil gleich beim Abnehmen beschriften; jeder Bausatz auf einen eigenen Stapel.
traveller-laser-intro = Beim Laser bleiben, solange er schneidet. Jedes Teil gleich beim Abnehmen beschriften; jeder Bausatz auf einen eigenen Stapel.
traveller-side-by-side = In dieser Reihenfolge. Während eine Maschine schneidet, an der anderen abnehmen, beschriften und auflegen, aber nur, solange der Laser in Sicht und sein Halt in Reichweite bleibt; sonst nacheinander. Jeder Bausatz auf einen eigenen Stapel.
traveller-blank-of = Rohling { $blank } von Platte { $n }
traveller-finish = { $part } fertigfräsen
traveller-finish-lay = Die gesägten Teile nehmen, { $way }; untere linke Ecke am Anschlag
traveller-link = Zeichnung: Bericht, Platte { $n }
traveller-take = { $stock } holen, { $place }: { $material }, { $size }, { $mass }
traveller-take-blank = Den Rohling aus Schritt { $step } nehmen: { $material }, { $size }
traveller-lay = Auflegen: { $how }
lay-any = Seite beliebig
lay-good-up = gute Seite oben
lay-both-good = Seite beliebig, beide sind gut
lay-grain-along = Laufrichtung von links nach rechts
lay-grain-away = Laufrichtung von Ihnen weg
lay-turned = um ein Viertel nach links gedreht, wie in der Schneiddatei
lay-as-drawn = wie in der Zeichnung
lay-flaws = Löcher und Fehlstellen, wo die Zeichnung sie hat
traveller-stack = { $many ->
    [one] Schnitte wie Platte { $sheets }: { $n } aufeinander in einem Gang
   *[other] Schnitte wie Platten { $sheets }: { $n } aufeinander in einem Gang
}
traveller-saw-cuts = { $n ->
    [one] Ein Schnitt
   *[other] { $n } Schnitte mit { $settings } Anschlagmaßen
}, einer nach dem anderen wie im Bericht
traveller-saw-lines = { $n } Schnitte nach den Linien der Zeichnung, in ihrer Reihenfolge
traveller-file = { $file } laden
traveller-cutting = Schneiden: { $length }, { $n ->
    [one] ein Einstich
   *[other] { $n } Einstiche
}
traveller-time = , etwa { $time }
traveller-tabs = Kleine Teile von Stegen oder Restboden lösen
traveller-marks = Geritztes oder Graviertes ansehen, bevor Sie abnehmen
traveller-to-rack = Ins Restelager: { $id }, { $size }; Etikett { $id } aufkleben
traveller-blank-to = Rohling { $n }, { $size }: weiter an { $machine }, Schritt { $step }
complete-kits = { $many ->
    [one] Jetzt komplett: Bausatz { $kits }.
   *[other] Jetzt komplett: Bausätze { $kits }.
}
complete-kits-of = { $many ->
    [one] Jetzt komplett: Bausatz { $kits } von { $kit }.
   *[other] Jetzt komplett: Bausätze { $kits } von { $kit }.
}
traveller-bench = Werkbank
traveller-bench-intro = Die Teile Stapel für Stapel herüberbringen, Folien darauf, Späne vorher abbürsten.
traveller-edges = Kanten säubern
traveller-edges-how = Kanten auf beiden Seiten brechen, außen und in den Öffnungen: zusammen { $length }
traveller-edge-each = je { $length }
traveller-edges-laser = Laserkanten
traveller-edges-laser-how = Nicht schaben; abwischen und auf Ausbrüche und Risse ansehen
traveller-marked = Markierungen
traveller-marked-how = Markierungen sind da, auf der richtigen Seite und sauber; jeder Strich eines Buchstabens zählt als eine
traveller-lines = { $n ->
    [one] eine Markierung
   *[other] { $n } Markierungen
}
traveller-film = Schutzfolie
traveller-film-on = Darauf lassen, bis das Paket geschlossen ist; wo eine Kante gesäubert wird, einen Finger breit anheben
traveller-film-off = Sofort abziehen, wo sie verbrannt ist oder Späne darunter liegen: sie kratzen
traveller-packing = Packen, Bausatz für Bausatz
traveller-packing-intro = Mit der Prüfliste daneben. Folien darauf, schwere Teile nach unten, gute Seiten zueinander.
traveller-pack-kit = { $n ->
    [one] { $kit }: je ein Teil
   *[other] { $kit }: je { $n } Teile
}
traveller-pack-line = Bausatz { $n }: { $parts ->
    [one] ein Teil
   *[other] { $parts } Teile
}, { $mass }, ab Schritt { $step }; gezählt, geprüft, beschriftet
traveller-pack-open = Bausatz { $n } bleibt offen: { $parts } Teile, { $missing } fehlen
traveller-pack-singles = Einzeln bestellt
traveller-pack-single = { $n } x { $part }, { $mass }; gezählt, geprüft, beschriftet
traveller-afterwards = Danach
traveller-book = Schachtelung { $digest } buchen
traveller-book-how = Buchen, was geschnitten wurde (panelwright book), damit Bestand und Restelager stimmen
traveller-book-labels = { $n ->
    [one] Die Nummer, die das Restelager vergibt, auf das Etikett des Abschnitts schreiben und es an seinen Platz stellen
   *[other] Die Nummern, die das Restelager vergibt, auf die Etiketten der { $n } Abschnitte schreiben und sie an ihre Plätze stellen
}
traveller-book-spoiled = Was schiefging, wird Platte für Platte als verdorben gebucht; die nachzuschneidenden Teile ergeben sich daraus
