/*
 * An outside meter to hold the project's own against: libebur128 over a 24-bit WAV file, read in blocks of 100 ms.
 * Integrated loudness, loudness range, short-term loudness asked for after every block, and true peak unless left out;
 * as one JSON object with the units in its keys.
 *
 *   cc -O2 libebur128-meter.c -o libebur128-meter -lebur128 -lm
 *   libebur128-meter FILE [--no-true-peak]
 *   libebur128-meter --version
 */
#include <ebur128.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static uint32_t little_endian(const unsigned char *bytes, int count) {
  uint32_t value = 0;
  for (int index = count - 1; index >= 0; index--) value = value << 8 | bytes[index];
  return value;
}

static void fail(const char *words) {
  fprintf(stderr, "%s\n", words);
  exit(1);
}

static void print_figure(const char *name, double value) {
  if (isfinite(value))
    printf("\"%s\":%.4f", name, value);
  else
    printf("\"%s\":null", name);
}

int main(int count, char **arguments) {
  if (count == 2 && strcmp(arguments[1], "--version") == 0) {
    int major, minor, patch;
    ebur128_get_version(&major, &minor, &patch);
    printf("%d.%d.%d\n", major, minor, patch);
    return 0;
  }
  if (count < 2) fail("Usage: libebur128-meter FILE [--no-true-peak]");
  const int true_peak_wanted = !(count > 2 && strcmp(arguments[2], "--no-true-peak") == 0);

  FILE *file = fopen(arguments[1], "rb");
  if (!file) fail("The file can't be opened.");
  unsigned char head[12];
  if (fread(head, 1, 12, file) != 12 || memcmp(head, "RIFF", 4) || memcmp(head + 8, "WAVE", 4))
    fail("The file is no WAV.");
  uint32_t channels = 0, rate = 0, data_bytes = 0;
  for (;;) {
    unsigned char chunk[8], format[16];
    if (fread(chunk, 1, 8, file) != 8) fail("The file has no audio chunk.");
    uint32_t size = little_endian(chunk + 4, 4);
    if (memcmp(chunk, "data", 4) == 0) {
      data_bytes = size;
      break;
    }
    long rest = (long)size + size % 2;
    if (memcmp(chunk, "fmt ", 4) == 0) {
      if (size < 16 || fread(format, 1, 16, file) != 16) fail("The format chunk is too short.");
      channels = little_endian(format + 2, 2);
      rate = little_endian(format + 4, 4);
      if (little_endian(format + 14, 2) != 24) fail("The samples don't have 24 bits.");
      rest -= 16;
    }
    fseek(file, rest, SEEK_CUR);
  }
  if (!channels || !rate) fail("The file names no sample format.");

  const int modes = EBUR128_MODE_I | EBUR128_MODE_LRA | EBUR128_MODE_S | (true_peak_wanted ? EBUR128_MODE_TRUE_PEAK : 0);
  ebur128_state *state = ebur128_init(channels, rate, modes);
  if (!state) fail("libebur128 did not start.");
  const size_t block_frames = rate / 10;
  const size_t frame_bytes = 3 * channels;
  unsigned char *bytes = malloc(block_frames * frame_bytes);
  int *samples = malloc(block_frames * channels * sizeof(int));
  double max_short_term = -HUGE_VAL;
  size_t frames_left = data_bytes / frame_bytes;
  while (frames_left > 0) {
    size_t wanted = frames_left < block_frames ? frames_left : block_frames;
    size_t frames = fread(bytes, frame_bytes, wanted, file);
    if (frames == 0) fail("The file is cut off.");
    for (size_t sample = 0; sample < frames * channels; sample++)
      samples[sample] = (int)(little_endian(bytes + 3 * sample, 3) << 8);
    ebur128_add_frames_int(state, samples, frames);
    double short_term;
    ebur128_loudness_shortterm(state, &short_term);
    if (short_term > max_short_term) max_short_term = short_term;
    frames_left -= frames;
  }

  double integrated, range, true_peak = -HUGE_VAL;
  ebur128_loudness_global(state, &integrated);
  ebur128_loudness_range(state, &range);
  for (uint32_t channel = 0; true_peak_wanted && channel < channels; channel++) {
    double peak;
    ebur128_true_peak(state, channel, &peak);
    if (20 * log10(peak) > true_peak) true_peak = 20 * log10(peak);
  }
  printf("{");
  print_figure("integratedLoudnessLufs", integrated);
  printf(",");
  print_figure("loudnessRangeLu", range);
  printf(",");
  print_figure("maxShortTermLoudnessLufs", max_short_term);
  printf(",");
  print_figure("truePeakDbtp", true_peak);
  printf("}\n");
  ebur128_destroy(&state);
  free(bytes);
  free(samples);
  fclose(file);
  return 0;
}
