## Bilder einzelner Platten

preview-title = Platte { $number } von { $count }: { $name }
preview-remnant = Reststück { $id }
preview-stands = Standort: { $value }
preview-lot = Charge { $value }
preview-work = Auftrag { $order }, { $machine }. { $parts ->
    [one] { $parts } Teil
   *[other] { $parts } Teile
}, { $way }.
preview-part = { $count } x { $part }, { $size }
preview-more = und { $n } weitere, siehe Bericht
