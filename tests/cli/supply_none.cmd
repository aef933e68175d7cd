"$METERBOOK" --database coarse.record supply
