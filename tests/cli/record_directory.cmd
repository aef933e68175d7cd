"$METERBOOK" --database . day
