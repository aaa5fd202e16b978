## Was das Restelager druckt
