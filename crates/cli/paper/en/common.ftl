# Texts that all papers share, English. A line is `key = text`; { $name } is filled in by the program.
# Other languages have the same keys and variables; the tests compare them.

## Common

not-known = not known
parts-count = { $n ->
    [one] { $n } part
   *[other] { $n } parts
}
written-to = Written to { $folder }:
