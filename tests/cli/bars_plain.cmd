"$METERBOOK" --database derived.record --bars always day 2026-05-05
