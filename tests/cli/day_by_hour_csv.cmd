"$METERBOOK" --database gross.record --by hour --format csv day 2026-05-05
