validate() { "$METERBOOK" --database checks.record --now 2026-04-02T12:00:00Z validate "$@"; echo "code $?"; }
validate 2026-13
validate 2024
validate 2026-03 2026-04
