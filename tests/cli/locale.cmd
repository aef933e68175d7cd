# decimals and thousands do not follow the locale
locale -a | grep -qix 'de_DE.utf-\?8' || { echo "no de_DE locale" >&2; exit 77; }
LC_ALL=de_DE.UTF-8 "$METERBOOK" --database household.record --format csv month 2026-03 | head -n 3
