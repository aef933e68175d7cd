/* links: tools/report/page.c tools/report/palette.c tools/report/html.c tools/output/text.c tools/report/sha256.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "page.h"
#include "palette.h"
#include "sha256.h"

static void test_style(void **state)
{
    (void)state;
    char style[PAGE_STYLE_SIZE], name[16];
    size_t size = page_style(style);
    assert_true(size < PAGE_STYLE_SIZE);
    assert_int_equal(strlen(style), size);
    /* the same text in HTML and XML, so that the hash holds in both */
    assert_null(strpbrk(style, "<>&"));
    for (int32_t i = 0; i < PALETTE_COUNT; i++) {
        snprintf(name, sizeof(name), "--%s:#", palette[i].name);
        const char *light = strstr(style, name);
        assert_non_null(light);
        assert_non_null(strstr(light + 1, name));
    }
    /* nothing comes from elsewhere */
    assert_null(strstr(style, "@import"));
    assert_null(strstr(style, "http"));
}

/* The policy names what stands between the style's tags. */
static void test_policy(void **state)
{
    (void)state;
    char *text, hash[SHA256_BASE64_SIZE], source[SHA256_BASE64_SIZE + 16];
    size_t size;
    uint8_t digest[SHA256_SIZE];
    FILE *out = open_memstream(&text, &size);
    page_open(out, "</title>");
    page_close(out);
    fclose(out);
    const char *from = strstr(text, "<style>") + strlen("<style>"), *to = strstr(from, "</style>");
    sha256(from, (size_t)(to - from), digest);
    sha256_base64(digest, hash);
    snprintf(source, sizeof(source), "'sha256-%s'", hash);
    const char *policy = strstr(text, "default-src 'none'");
    assert_non_null(policy);
    assert_non_null(strstr(policy, source));
    assert_null(strstr(text, "unsafe"));
    assert_non_null(strstr(text, "&lt;/title&gt;"));
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_style), cmocka_unit_test(test_policy) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
