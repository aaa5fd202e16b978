## Pictures of single sheets

preview-title = Sheet { $number } of { $count }: { $name }
preview-remnant = remnant { $id }
preview-stands = stands: { $value }
preview-lot = lot { $value }
preview-work = Order { $order }, { $machine }. { $parts ->
    [one] { $parts } part
   *[other] { $parts } parts
}, { $way }.
preview-part = { $count } x { $part }, { $size }
preview-more = and { $n } more, which the report lists
