"$METERBOOK" --database blank.record month
