# every example of these manual pages answers
manuals=$(cd "$(dirname "$0")/../../tools" && pwd)
cd invented
meterbook() { "$METERBOOK" -c meterbook.conf --now 2025-03-01T09:00:00Z "$@"; }
for page in yield expected degradation cleaning; do
    sed -n 's/^\.Dl //p' "$manuals/meterbook-$page.1" | while IFS= read -r example; do
        eval "$example" >answer 2>problems </dev/null
        echo "$? $example"
    done
done
rm -f answer problems yield.csv
