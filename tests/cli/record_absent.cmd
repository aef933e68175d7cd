"$METERBOOK" --database absent.record day
