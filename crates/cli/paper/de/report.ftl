## Der Bericht zu einer Schachtelung
