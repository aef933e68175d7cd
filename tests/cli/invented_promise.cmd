# promised, lost and regained: what was planned is what is found
meterbook() { "$METERBOOK" -c invented/meterbook.conf --now 2025-03-01T09:00:00Z "$@"; }
meterbook expected 2024
meterbook expected 2024-06-05/2024-06-12
meterbook --by year --format csv expected 2>/dev/null
meterbook degradation | sed -n '/^degradation/,$p'
meterbook --format csv degradation 2>/dev/null
meterbook cleaning
meterbook --by week expected
meterbook cleaning 2023
