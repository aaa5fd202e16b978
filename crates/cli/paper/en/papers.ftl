## Traveller, kit check list, labels
