/* Loaded before the C library of a run's processes: a disk that fails or is slow, and a wall clock that was set.

   What is wrong is read from a mapped file (SPOILT), four numbers of 64 bits: the error of every write, whether reading
   fails too, milliseconds that each flush takes, and seconds by which the wall clock is off. Only what lies under
   SPOILT_UNDER is spoilt, and not the simulated camera, which is led to from there; its clock is its own too. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

static volatile int64_t nothing[4];
static volatile int64_t *told = nothing;
static const char *under = "";
static dev_t device;
static int is_camera;

/* A camera's clock is its own: nobody sets it with ours. */
static void look_what_it_is(void)
{
    char words[4096];
    int fd = open("/proc/self/cmdline", O_RDONLY | O_CLOEXEC);
    ssize_t size = fd < 0 ? 0 : read(fd, words, sizeof words - 1);
    if (fd >= 0) close(fd);
    for (ssize_t at = 0; at < size; at++) if (!words[at]) words[at] = ' ';
    words[size > 0 ? size : 0] = 0;
    is_camera = strstr(words, "tether.body.responder") != NULL;
}

__attribute__((constructor)) static void begin(void)
{
    look_what_it_is();
    const char *path = getenv("SPOILT");
    under = getenv("SPOILT_UNDER") ? getenv("SPOILT_UNDER") : "";
    struct stat found;
    if (*under && !stat(under, &found)) device = found.st_dev;
    int fd = path ? open(path, O_RDONLY | O_CLOEXEC) : -1;
    if (fd < 0) return;
    void *at = mmap(NULL, 4 * sizeof(int64_t), PROT_READ, MAP_SHARED, fd, 0);
    if (at != MAP_FAILED) told = at;
    close(fd);
}

#define REAL(name) __typeof__(&name) real = (__typeof__(&name))dlsym(RTLD_NEXT, #name)

static int there(int fd)
{
    struct stat found;
    return device && !fstat(fd, &found) && found.st_dev == device && S_ISREG(found.st_mode);
}

static int below(const char *path)
{
    size_t length = strlen(under);
    if (!length || strstr(path, "/simulated-body")) return 0;
    if (*path == '/') return !strncmp(path, under, length);
    char here[4096];
    return getcwd(here, sizeof here) && !strncmp(here, under, length);
}

#define SPOIL_WRITE(fd) if (told[0] && there(fd)) { errno = (int)told[0]; return -1; }
#define SPOIL_PATH(path) if (told[0] && below(path)) { errno = (int)told[0]; return -1; }

ssize_t write(int fd, const void *data, size_t size) { REAL(write); SPOIL_WRITE(fd) return real(fd, data, size); }
ssize_t pwrite(int fd, const void *data, size_t size, off_t at) { REAL(pwrite); SPOIL_WRITE(fd) return real(fd, data, size, at); }
ssize_t pwrite64(int fd, const void *data, size_t size, off64_t at) { REAL(pwrite64); SPOIL_WRITE(fd) return real(fd, data, size, at); }
int ftruncate(int fd, off_t size) { REAL(ftruncate); SPOIL_WRITE(fd) return real(fd, size); }
int ftruncate64(int fd, off64_t size) { REAL(ftruncate64); SPOIL_WRITE(fd) return real(fd, size); }
int rename(const char *from, const char *to) { REAL(rename); SPOIL_PATH(to) return real(from, to); }
int unlink(const char *path) { REAL(unlink); SPOIL_PATH(path) return real(path); }
int mkdir(const char *path, mode_t mode) { REAL(mkdir); SPOIL_PATH(path) return real(path, mode); }

static void dawdle(int fd)
{
    if (told[2] && there(fd)) usleep((useconds_t)(told[2] * 1000));
}

int fsync(int fd) { REAL(fsync); dawdle(fd); SPOIL_WRITE(fd) return real(fd); }
int fdatasync(int fd) { REAL(fdatasync); dawdle(fd); SPOIL_WRITE(fd) return real(fd); }

ssize_t read(int fd, void *data, size_t size)
{
    REAL(read);
    if (told[1] && there(fd)) { errno = EIO; return -1; }
    return real(fd, data, size);
}

ssize_t pread64(int fd, void *data, size_t size, off64_t at)
{
    REAL(pread64);
    if (told[1] && there(fd)) { errno = EIO; return -1; }
    return real(fd, data, size, at);
}

static int refused(const char *path, int flags)
{
    if (!told[0] || !below(path)) return 0;
    if (told[1]) { errno = ENOENT; return 1; }
    if ((flags & O_ACCMODE) == O_RDONLY && !(flags & O_CREAT)) return 0;
    errno = (int)told[0];
    return 1;
}

#define MODE mode_t mode = 0; if (flags & (O_CREAT | O_TMPFILE)) { va_list rest; va_start(rest, flags); mode = va_arg(rest, mode_t); va_end(rest); }

int open(const char *path, int flags, ...) { REAL(open); MODE if (refused(path, flags)) return -1; return real(path, flags, mode); }
int open64(const char *path, int flags, ...) { REAL(open64); MODE if (refused(path, flags)) return -1; return real(path, flags, mode); }
int openat(int at, const char *path, int flags, ...) { REAL(openat); MODE if (refused(path, flags)) return -1; return real(at, path, flags, mode); }
int openat64(int at, const char *path, int flags, ...) { REAL(openat64); MODE if (refused(path, flags)) return -1; return real(at, path, flags, mode); }

int clock_gettime(clockid_t which, struct timespec *now)
{
    REAL(clock_gettime);
    int found = real(which, now);
    if (!found && which == CLOCK_REALTIME && !is_camera) now->tv_sec += told[3];
    return found;
}

time_t time(time_t *at)
{
    REAL(time);
    time_t now = real(NULL) + (is_camera ? 0 : told[3]);
    if (at) *at = now;
    return now;
}
