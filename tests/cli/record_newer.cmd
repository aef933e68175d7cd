"$METERBOOK" --database newer.record day
