"$METERBOOK" --fromat csv day
