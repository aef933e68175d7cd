"$METERBOOK" --database coarse.record day 2026-05-05
