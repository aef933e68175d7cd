/* links: tools/report/sha256.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "sha256.h"

static void check(const char *text, const char *base64)
{
    uint8_t digest[SHA256_SIZE];
    char got[SHA256_BASE64_SIZE];
    sha256(text, strlen(text), digest);
    sha256_base64(digest, got);
    assert_string_equal(got, base64);
}

/* The examples published with FIPS 180-4 (one block, two blocks) and the empty message, here in base64. */
static void test_published(void **state)
{
    (void)state;
    check("abc", "ungWv48Bz+pBQUDeXa4iI7ADYaOWF3qctBD/YfIAFa0=");
    check("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
          "JI1qYdIGOLjlwCaTDD5gOaM85Flk/yFn9uzt1BnbBsE=");
    check("", "47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=");
}

/* Lengths around the end of a block, where the padding needs one more: from hashlib of Python. */
static void test_lengths(void **state)
{
    (void)state;
    static const struct {
        size_t length;
        const char *base64;
    } cases[] = {
        { 55, "n0OQ+NMMLdkuyfCVtl4rmumwqSWlJY4kHJ8ekQ9zQxg=" },
        { 56, "s1Q5pKxvCUi21vnjxq8PX1kM4g8b3nCQ73lwaG7Gc4o=" },
        { 63, "fT50oF19sVvOStnsBljqmOPwbu7PFrTG//LaRX3cLzQ=" },
        { 64, "/+BU/nrgy23GXDr5th1SCfQ5hR20PQulmXM33xVGaOs=" },
        { 65, "Y1NhxIu56rFBmOduqKt/GkFoXWrWKqkUbTAdTxfrCuA=" },
        { 119, "MeulHDE6XAgiat8Y1KNZz9/Y0ugWsT9K+VL36mWE3Ps=" },
        { 120, "Lz0zVDLHC1gK8Ojhs2dKfAINaDql9zqq7f3FWvkEwhw=" },
    };
    char text[130];
    memset(text, 'a', sizeof(text));
    for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
        char kept = text[cases[i].length];
        text[cases[i].length] = '\0';
        check(text, cases[i].base64);
        text[cases[i].length] = kept;
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_published), cmocka_unit_test(test_lengths) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
