"""Why a device file cannot be opened, told apart: its group, its permissions, or no device at all."""

import grp
import os
import stat

RULE = "/usr/lib/udev/rules.d/60-halocline.rules"
OTHERS_MAY = stat.S_IRGRP | stat.S_IWGRP


def remedy(path: str, group: str) -> str:
    """What to do about `path`, which the kernel refused; `group`: whose it should be."""
    try:
        found = os.stat(path)
        owner = grp.getgrgid(found.st_gid).gr_name
    except (OSError, KeyError):
        return f"add the daemon's user to the group {group}"
    if found.st_gid == 0 or found.st_mode & OTHERS_MAY != OTHERS_MAY:
        mode = stat.filemode(found.st_mode)
        return f"{path} is open to root alone ({mode} {owner}): {RULE} opens it to {group}; sudo udevadm trigger"
    return f"add the daemon's user to the group {owner}"
