# Gemeinsame Texte der Papiere, deutsch. Schlüssel und Variablen sind die von en/common.ftl.

## Gemeinsames

not-known = nicht bekannt
parts-count = { $n ->
    [one] { $n } Teil
   *[other] { $n } Teile
}
written-to = Geschrieben nach { $folder }:
