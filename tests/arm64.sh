#!/usr/bin/env bash
# Tether on an emulated 64-bit ARM userland (QEMU, Debian 12): the locked aarch64 wheels load, ladders are the same text
# as here, byte for byte, and unit tests pass. It shows nothing of a Pi's speed, timing, USB, udev, systemd or power.
# Needs Linux 6.7 or newer, root or user namespaces, Python 3.11 here, and:
#   apt-get install --no-install-recommends qemu-user-static mmdebstrap
set -euo pipefail
for needed in mmdebstrap /usr/lib/binfmt.d/qemu-aarch64.conf python3.11; do
  command -v "$needed" >/dev/null || [ -e "$needed" ] || { echo "$needed is not there; $0 says what is needed." >&2; exit 2; }
done
here="$1" # a Python with Tether's dependencies, for the same ladders without emulation
root="$PWD/build/arm64" venv=/srv/tether/.venv packages=/srv/tether/.venv/lib/python3.11/site-packages

in_root() { # runs its words in the root, with mounts, processes and binary formats of its own: nothing stays behind
  unshare --user --map-root-user --mount --pid --fork --kill-child sh -euc '
    mount -t binfmt_misc none /proc/sys/fs/binfmt_misc
    cat /usr/lib/binfmt.d/qemu-aarch64.conf > /proc/sys/fs/binfmt_misc/register
    mount --rbind /dev "$0/dev"; mount -t proc proc "$0/proc"
    exec chroot "$0" env -i PATH=/usr/bin:/bin HOME=/tmp LC_ALL=C.UTF-8 COLUMNS=100 QEMU_CPU=cortex-a72 "$@"' "$root" "$@"
}
in_tether() { in_root sh -c 'cd /srv/tether && exec '"$venv"'/bin/python "$@"' sh "$@"; }

if [ ! -x "$root$venv/bin/python" ]; then
  rm -rf "$root"
  mkdir -p "$root"
  mmdebstrap --quiet --architectures=arm64 --variant=extract --mode=root --skip=check/qemu \
    --include=base-files,coreutils,dash,libc-bin,libstdc++6,python3,python3-venv,tzdata bookworm "$root"
  mkdir -p "$root/srv/tether" "$root/tmp"
  in_root python3 -m venv --without-pip "$venv"
fi
if ! cmp -s requirements.lock "$root/srv/tether/requirements.lock"; then
  # By this machine's pip, which lays in what it would there: under emulation it takes minutes.
  platforms="--platform manylinux2014_aarch64 $(printf -- '--platform manylinux_2_%s_aarch64 ' 17 24 26 27 28)"
  # shellcheck disable=SC2086
  python3.11 -m pip install --quiet --disable-pip-version-check --root-user-action ignore --upgrade --target "$root$packages" --require-hashes --no-deps \
    --only-binary=:all: --implementation cp --python-version 3.11 --abi cp311 --abi abi3 --abi none $platforms -r requirements.lock
  echo /srv/tether >"$root$packages/tether.pth" # children started with -P need it
fi
git archive HEAD | tar -x -C "$root/srv/tether"

echo "$(in_tether -c 'import platform; print(platform.machine(), platform.python_version())') (emulated)"
in_tether -c 'import gphoto2, rawpy, exiv2, numpy; print(gphoto2.__version__, gphoto2.gp_library_version(0)[0])'
for plan in demo weir; do
  for form in "" --json; do
    COLUMNS=100 LC_ALL=C.UTF-8 PYTHONPATH=$PWD "$here" -P -m tether ladder "profiles/plans/$plan.toml" $form >"$root/tmp/here.txt"
    in_tether -m tether ladder "profiles/plans/$plan.toml" $form >"$root/tmp/there.txt"
    cmp "$root/tmp/here.txt" "$root/tmp/there.txt"
    echo "ladder $plan $form: the same $(wc -c <"$root/tmp/there.txt") bytes"
  done
done
in_tether -m pytest -q -p no:cacheprovider --timeout 900 -m "not prove and not faults" tests/exposure tests/plan tests/light \
  tests/body/driver --ignore tests/body/driver/test_on_wire.py --ignore tests/body/driver/test_virtual.py
