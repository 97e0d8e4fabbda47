/* Traces or breaks the file writes and syncs of one program. Linux only.
 *
 *   cc -O2 -shared -fPIC -o faultio.so faultio.c -ldl        then run the program with LD_PRELOAD=faultio.so
 *   FAULT_PATH=text       only files whose path contains this text
 *   FAULT_TRACE=file      append every write, truncate, sync, unlink, rename: what power_cut.py rebuilds disks from
 *   FAULT_SYNC_MS=ms      every sync takes this much longer: a memory card or an old disk
 *   FAULT_KIND=enospc|eio|edquot|short|fsync|fsync-gone   FAULT_AT=n (from 1)   FAULT_FOR=k (default: for ever)
 *
 * enospc, eio, edquot: the n-th to (n+k-1)-th write fails.  short: that write stores half and says so.
 * fsync: the n-th sync fails with EIO, and later ones succeed without having written what it lost.
 * fsync-gone: the same, and the program is gone at that moment (it prints 1).
 * fault_plan(kind, at, for) starts a new plan from inside the program, with counts from zero; fault_count(syncs)
 * says how many writes (0) or syncs (1) were seen since.
 */
#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/types.h>
#include <sys/uio.h>
#include <unistd.h>

static pthread_mutex_t turn = PTHREAD_MUTEX_INITIALIZER;
static int tracing = -2;
static char kind[16], wanted[PATH_MAX];
static long at, lasting, writes, syncs, sync_ms;

static void start(void) {
  if (tracing != -2) return;
  const char *text;
  snprintf(wanted, sizeof wanted, "%s", (text = getenv("FAULT_PATH")) ? text : "");
  snprintf(kind, sizeof kind, "%s", (text = getenv("FAULT_KIND")) ? text : "");
  at = (text = getenv("FAULT_AT")) ? atol(text) : 0;
  lasting = (text = getenv("FAULT_FOR")) ? atol(text) : LONG_MAX / 2;
  sync_ms = (text = getenv("FAULT_SYNC_MS")) ? atol(text) : 0;
  text = getenv("FAULT_TRACE");
  tracing = text ? (int)syscall(SYS_openat, AT_FDCWD, text, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0644) : -1;
}

void fault_plan(const char *new_kind, long new_at, long new_lasting) {
  start();
  pthread_mutex_lock(&turn);
  snprintf(kind, sizeof kind, "%s", new_kind);
  at = new_at;
  lasting = new_lasting;
  writes = syncs = 0;
  pthread_mutex_unlock(&turn);
}

long fault_count(int of_syncs) { return of_syncs ? syncs : writes; }

static int ours(const char *path) { return wanted[0] && strstr(path, wanted) != NULL; }

static int path_of(int fd, char *path) {
  char link[64];
  snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
  ssize_t n = syscall(SYS_readlinkat, AT_FDCWD, link, path, PATH_MAX - 1);
  if (n <= 0) return 0;
  path[n] = 0;
  return ours(path);
}

static void trace(const char *what, const char *path, long long offset, size_t length, const void *data) {
  if (tracing < 0) return;
  char head[2 * PATH_MAX + 96];
  int n = snprintf(head, sizeof head, "%s\t%s\t%lld\t%zu\n", what, path, offset, data ? length : (size_t)0);
  struct iovec parts[2] = {{head, (size_t)n}, {(void *)data, data ? length : 0}};
  syscall(SYS_writev, tracing, parts, data ? 2 : 1);
}

static int due(long count) { return at && count >= at && count < at + lasting; }

static int write_fault(size_t *length) { /* the errno to fail with, or 0; `turn` is held */
  if (!due(++writes)) return 0;
  if (!strcmp(kind, "enospc")) return ENOSPC;
  if (!strcmp(kind, "edquot")) return EDQUOT;
  if (!strcmp(kind, "eio")) return EIO;
  if (!strcmp(kind, "short") && *length > 1) *length /= 2;
  return 0;
}

static ssize_t do_write(int fd, const void *data, size_t length, int placed, off_t place) {
  char path[PATH_MAX];
  start();
  if (!path_of(fd, path))
    return placed ? syscall(SYS_pwrite64, fd, data, length, place) : syscall(SYS_write, fd, data, length);
  pthread_mutex_lock(&turn);
  ssize_t done = -1;
  int fault = write_fault(&length);
  if (!fault) {
    off_t offset = placed ? place : (off_t)syscall(SYS_lseek, fd, 0, SEEK_CUR);
    if (!placed && ((int)syscall(SYS_fcntl, fd, F_GETFL) & O_APPEND)) {
      struct stat state;
      fstat(fd, &state);
      offset = state.st_size;
    }
    done = placed ? syscall(SYS_pwrite64, fd, data, length, place) : syscall(SYS_write, fd, data, length);
    if (done > 0) trace("write", path, offset, (size_t)done, data);
  }
  pthread_mutex_unlock(&turn);
  if (fault) errno = fault;
  return done;
}
ssize_t write(int fd, const void *data, size_t n) { return do_write(fd, data, n, 0, 0); }
ssize_t pwrite(int fd, const void *data, size_t n, off_t place) { return do_write(fd, data, n, 1, place); }
ssize_t pwrite64(int fd, const void *data, size_t n, off_t place) { return do_write(fd, data, n, 1, place); }

static int do_sync(int fd, int call) {
  char path[PATH_MAX];
  start();
  if (!path_of(fd, path)) return (int)syscall(call, fd);
  if (sync_ms) usleep((useconds_t)sync_ms * 1000);
  pthread_mutex_lock(&turn);
  int done, fault = due(++syncs) && !strncmp(kind, "fsync", 5);
  if (fault) {
    trace("lost", path, 0, 0, NULL);
    if (!strcmp(kind, "fsync-gone")) {
      syscall(SYS_write, 1, "1\n", 2);
      _exit(0);
    }
    done = -1;
  } else {
    done = (int)syscall(call, fd);
    if (!done) trace("sync", path, 0, 0, NULL);
  }
  pthread_mutex_unlock(&turn);
  if (fault) errno = EIO;
  return done;
}
int fsync(int fd) { return do_sync(fd, SYS_fsync); }
int fdatasync(int fd) { return do_sync(fd, SYS_fdatasync); }

static int do_truncate(int fd, off_t length) {
  char path[PATH_MAX];
  start();
  int mine = path_of(fd, path), done = (int)syscall(SYS_ftruncate, fd, length);
  if (mine && !done) trace("cut", path, length, 0, NULL);
  return done;
}
int ftruncate(int fd, off_t length) { return do_truncate(fd, length); }
int ftruncate64(int fd, off_t length) { return do_truncate(fd, length); }

int unlink(const char *path) {
  start();
  int done = (int)syscall(SYS_unlinkat, AT_FDCWD, path, 0);
  if (!done && ours(path)) trace("unlink", path, 0, 0, NULL);
  return done;
}
int rename(const char *from, const char *to) {
  start();
  int done = (int)syscall(SYS_renameat2, AT_FDCWD, from, AT_FDCWD, to, 0);
  if (!done && ours(to)) {
    char both[2 * PATH_MAX];
    snprintf(both, sizeof both, "%s|%s", from, to);
    trace("rename", both, 0, 0, NULL);
  }
  return done;
}
