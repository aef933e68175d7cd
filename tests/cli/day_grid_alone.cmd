"$METERBOOK" --database grid_alone.record day 2026-05-05
