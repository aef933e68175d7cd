# decimals and thousands do not follow the locale
if ! locale -a | grep -qix 'de_DE.utf-\?8'; then
    localedef -i de_DE -f UTF-8 "$PWD/de_DE.UTF-8" 2>/dev/null || { echo "no de_DE locale and none could be made" >&2; exit 77; }
    LOCPATH=$PWD; export LOCPATH
fi
LC_ALL=de_DE.UTF-8 "$METERBOOK" --database household.record --format csv month 2026-03 >locale.csv 2>/dev/null && head -n 3 locale.csv
