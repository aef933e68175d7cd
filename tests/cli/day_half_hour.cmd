"$METERBOOK" --database half_hour.record day 2026-04-05
