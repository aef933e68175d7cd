"$METERBOOK" --database no_export.record day 2026-05-05
