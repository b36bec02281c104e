/* halocline-safe FILE: drives every output to its safe level and lets go.
 *
 * Run when control has ended, however it ended. FILE is what control left when it opened its board: the chip's device,
 * then LINE=LEVEL for each output. Not Python: nothing of it has to be found on a card that hangs or has gone, and it
 * is through in a millisecond. Each line is asked for on its own, so that one that cannot be had keeps no other.
 * Exit status 0: every line was driven; 1: one was not; 2: the file cannot be used.
 */
#include <errno.h>
#include <fcntl.h>
#include <linux/gpio.h>
#include <stdio.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

static int drive(int chip, unsigned int line, unsigned int level)
{
	struct gpio_v2_line_request request;

	memset(&request, 0, sizeof(request));
	request.offsets[0] = line;
	request.num_lines = 1;
	strcpy(request.consumer, "halocline-safe");
	request.config.flags = GPIO_V2_LINE_FLAG_OUTPUT;
	/* the level belongs to the request: the line has it in the moment it becomes an output */
	request.config.num_attrs = 1;
	request.config.attrs[0].attr.id = GPIO_V2_LINE_ATTR_ID_OUTPUT_VALUES;
	request.config.attrs[0].attr.values = level;
	request.config.attrs[0].mask = 1;
	return ioctl(chip, GPIO_V2_GET_LINE_IOCTL, &request);
}

int main(int argc, char **argv)
{
	char device[256];
	unsigned int line, level;
	int chip, got, failed = 0, driven = 0;
	FILE *file = argc == 2 ? fopen(argv[1], "r") : NULL;

	if (!file || fscanf(file, "%255s", device) != 1) {
		fprintf(stderr, "halocline-safe: %s: %s\n", argc == 2 ? argv[1] : "usage: halocline-safe FILE",
			file ? "names no chip" : strerror(argc == 2 ? errno : EINVAL));
		return 2;
	}
	chip = open(device, O_RDWR | O_CLOEXEC);
	if (chip < 0) {
		fprintf(stderr, "halocline-safe: %s: %s\n", device, strerror(errno));
		return 1;
	}
	while ((got = fscanf(file, " %u=%u", &line, &level)) == 2) {
		driven++;
		if (drive(chip, line, level)) {
			fprintf(stderr, "halocline-safe: line %u: %s\n", line, strerror(errno));
			failed = 1;
		}
	}
	if (got != EOF || !driven) {
		fprintf(stderr, "halocline-safe: %s: not LINE=LEVEL after %d lines\n", argv[1], driven);
		return 2;
	}
	return failed;
}
