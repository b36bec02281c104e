import ctypes
import os
import signal
import subprocess
import sys
import threading
import time
from datetime import UTC, datetime

import pytest
from conftest_mqtt import NOON_S, PREFIX, event, low_feed, public, until

pytestmark = pytest.mark.system
