/* halocline-safe FOLDER PAUSE_S [COMMAND...]: drives every output to its safe level and lets go.
 *
 * Run when control has ended, however it ended. FOLDER/outputs is what control left when it opened its board: the
 * chip's device, then LINE=LEVEL for each output. Not Python, and no shell around it: nothing of it has to be found on
 * a card that hangs or has gone, and it is through in a millisecond. Each line is asked for on its own, so that one
 * that cannot be had keeps no other. Where a line was not driven, COMMAND is run to do it from the configuration.
 *
 * FOLDER/proved is there once control has done a good tick, and is taken away here. Where it was not there, PAUSE_S
 * pass: the next start will most likely end likewise (a wrong setting, a missing board, an error of ours), and at
 * control's priority starts without a pause would leave nothing of the processor for the page that says why.
 *
 * Exit status 0: every line was driven; 1: one was not; 2: the file cannot be used. COMMAND's own is not told.
 */
#include <errno.h>
#include <fcntl.h>
#include <linux/gpio.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/wait.h>
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
	if (ioctl(chip, GPIO_V2_GET_LINE_IOCTL, &request))
		return -1;
	/* let go at once: the command, should it be needed, has to find every line free */
	close(request.fd);
	return 0;
}

static int drive_all(const char *path)
{
	char device[256];
	unsigned int line, level;
	int chip, got, failed = 0, driven = 0;
	FILE *file = fopen(path, "r");

	if (!file || fscanf(file, "%255s", device) != 1) {
		fprintf(stderr, "halocline-safe: %s: %s\n", path, file ? "names no chip" : strerror(errno));
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
	close(chip);
	fclose(file);
	if (got != EOF || !driven) {
		fprintf(stderr, "halocline-safe: %s: not LINE=LEVEL after %d lines\n", path, driven);
		return 2;
	}
	return failed;
}

static void run(char **command)
{
	pid_t child = fork();

	if (child == 0) {
		execv(command[0], command);
		_exit(127);
	}
	if (child < 0 || waitpid(child, NULL, 0) < 0)
		fprintf(stderr, "halocline-safe: %s: %s\n", command[0], strerror(errno));
}

int main(int argc, char **argv)
{
	char path[256];
	int status, pause_s;

	if (argc < 3 || strlen(argv[1]) + sizeof("/outputs") > sizeof(path)) {
		fprintf(stderr, "halocline-safe: usage: halocline-safe FOLDER PAUSE_S [COMMAND...]\n");
		return 2;
	}
	pause_s = atoi(argv[2]);
	snprintf(path, sizeof(path), "%s/outputs", argv[1]);
	status = drive_all(path);
	if (status && argc > 3)
		run(argv + 3);
	snprintf(path, sizeof(path), "%s/proved", argv[1]);
	if (unlink(path)) {
		fprintf(stderr, "halocline-safe: control ended before a good tick; its next start waits %d s\n", pause_s);
		sleep(pause_s > 0 ? pause_s : 0);
	}
	return status;
}
