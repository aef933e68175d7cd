# bills, savings and return on a page: a month whole, of years what is said
tariffs=$(dirname "$0")/../../config/tariffs
page() {
    "$METERBOOK" -c invented/meterbook.conf --now 2025-03-01T09:00:00Z --contract "$1" report "$2"
}
page "$tariffs/invented.contract" 2024-05 | sed -n '/id="savings"/,/<\/main>/p'
page "$tariffs/invented.contract" 2024 | sed -n '/id="cash"/,/id="bill"/p' | grep -E '^<(p|h2)>|figcaption|class="(ml|mr|dot|ahead|w w)|best|>projected<|>20(25|26)<'
# half of that year is from readings alone
page "$tariffs/invented.contract" 2022-11/2023-06 | sed -n '/id="savings"/,/<table>/p' | grep -E '<rect|seam|^<p>'
# a contract that cannot be used leaves the rest of the page
cp "$tariffs"/slabs.tariff . && printf 'contract = { tariff = "slabs.tariff"; };\n' >bare.contract
page bare.contract 2024 | sed -n '/id="savings"/,/<\/main>/p' | grep -E '<h2>|figcaption|<li>(Savings|Cost|Sizes)'
page none.contract 2024-05 | grep -E '<h2>|<li>Savings'
