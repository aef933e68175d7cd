/* Gives files to a fuzzer's entry, once each: a fuzzer's corpus as an ordinary test. */
#include <stdint.h>
#include <stdio.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int main(int argc, char **argv)
{
    static uint8_t data[1 << 20];
    LLVMFuzzerTestOneInput(data, 0);
    for (int i = 1; i < argc; i++) {
        FILE *file = fopen(argv[i], "rb");
        if (!file) {
            perror(argv[i]);
            return 1;
        }
        size_t size = fread(data, 1, sizeof data, file);
        fclose(file);
        LLVMFuzzerTestOneInput(data, size);
    }
    printf("%d inputs replayed\n", argc - 1);
    return 0;
}
