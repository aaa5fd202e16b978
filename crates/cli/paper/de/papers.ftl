## Laufzettel, Prüfliste, Etiketten
