"$METERBOOK" day --format
