#!/usr/bin/env bash
# Bring the public recording of a real camera's USB traffic that is part of umockdev's source package: never committed.
# It is in Debian's package, so apt brings it, and checks that it is what Debian signed; nothing is installed.
set -euo pipefail
to="$(realpath -m "$1")"
suite="${TETHER_SUITE:-$(. /etc/os-release && echo "${VERSION_CODENAME:-stable}")}"
work="$(mktemp -d)"
trap 'rm -rf "$work"' EXIT
cd "$work"
mkdir -p lists/partial cache
# From the mirror that this machine has its packages from.
mirror="$(apt-get indextargets --format '$(REPO_URI)' 'Created-By: Packages' | grep -E '/debian/?$' | head -1 || true)"
echo "deb-src ${mirror:-http://deb.debian.org/debian} $suite main" >sources.list
apt=(apt-get -qq -o Dir::Etc::SourceList="$work/sources.list" -o Dir::Etc::SourceParts=/dev/null
  -o Dir::State::Lists="$work/lists" -o Dir::Cache="$work/cache" -o APT::Sandbox::User=)
"${apt[@]}" update
"${apt[@]}" source --download-only umockdev
mkdir -p "$to"
tar --no-same-owner -xf umockdev_*.orig.tar.* --wildcards --strip-components=3 -C "$to" '*/devices/cameras/canon-powershot-sx200.*'
