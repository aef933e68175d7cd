# the block characters of a UTF-8 locale, on a line of 80 columns
locale -a | grep -qix 'c.utf-\?8' || { echo "no UTF-8 locale" >&2; exit 77; }
LC_ALL=C.UTF-8 COLUMNS=80 "$METERBOOK" --database derived.record --bars always day 2026-05-05
