"$METERBOOK" --database autumn.record day 2026-10-25
