"$METERBOOK" --database gross.record --by interval day 2026-05-05
