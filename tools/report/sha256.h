/* SHA-256 (FIPS 180-4): a page's style is named by its hash in the page's own content security policy. */
#ifndef METERBOOK_SHA256_H
#define METERBOOK_SHA256_H

#include <stddef.h>
#include <stdint.h>

enum { SHA256_SIZE = 32, SHA256_BASE64_SIZE = 45 };

void sha256(const void *data, size_t size, uint8_t digest[SHA256_SIZE]);

/* The digest as base64 (RFC 4648) with its '=', and a NUL. */
void sha256_base64(const uint8_t digest[SHA256_SIZE], char text[SHA256_BASE64_SIZE]);

#endif
