"$METERBOOK" --format xml day
