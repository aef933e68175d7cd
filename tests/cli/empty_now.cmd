"$METERBOOK" --database blank.record now
