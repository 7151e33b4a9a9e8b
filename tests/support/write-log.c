/*
 * Stands between a program and the C library: what is written to the store's files is logged in order, and writes and
 * syncs can be made to fail. WRITE_LOG names the log; WRITE_FAULT names a file that holds an errno while they shall fail.
 *
 * A record is: kind (1 byte: W write, T truncate, S sync of a file, C created, D sync of the folder, U removed), file
 * (1 byte: 0 the store, 1 its write-ahead log, 2 the folder), offset and length (8 bytes each), then a write's bytes. A
 * write is logged before it is done and a sync after, so that what the log calls synced always was.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/uio.h>
#include <unistd.h>

#define MOST_FILES 4096
static signed char kind_of[MOST_FILES]; /* 1 + the file of a descriptor; 0: none of ours */
static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
static int log_fd = -1;

static int file_of_path(const char *path) {
  const char *name = strrchr(path, '/');
  name = name ? name + 1 : path;
  if (!strcmp(name, "samples.db")) return 0;
  if (!strcmp(name, "samples.db-wal")) return 1;
  return -1;
}

static void put(char kind, int file, uint64_t offset, uint64_t length, const void *bytes) {
  if (log_fd < 0) {
    const char *path = getenv("WRITE_LOG");
    if (!path) return;
    log_fd = syscall(SYS_openat, AT_FDCWD, path, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
  }
  unsigned char head[18];
  head[0] = kind;
  head[1] = (unsigned char)file;
  memcpy(head + 2, &offset, 8);
  memcpy(head + 10, &length, 8);
  struct iovec parts[2] = {{head, 18}, {(void *)bytes, bytes ? length : 0}};
  if (syscall(SYS_writev, log_fd, parts, 2) < 0) abort();
}

/* The errno with which a write (or, after "sync", only a sync) shall fail now; 0: it shall not. */
static int fault(int is_sync) {
  const char *path = getenv("WRITE_FAULT");
  if (!path) return 0;
  int fd = syscall(SYS_openat, AT_FDCWD, path, O_RDONLY | O_CLOEXEC, 0);
  if (fd < 0) return 0;
  char text[16] = {0};
  syscall(SYS_read, fd, text, sizeof text - 1);
  syscall(SYS_close, fd);
  return strstr(text, "sync") && !is_sync ? 0 : atoi(text);
}

static int ours(int fd) { return fd >= 0 && fd < MOST_FILES ? kind_of[fd] : 0; }

static int opened(const char *path, int flags, int mode, int folder) {
  int file = file_of_path(path);
  struct stat before;
  int there = file >= 0 && stat(path, &before) == 0;
  int fd = syscall(SYS_openat, folder, path, flags, mode);
  if (fd < 0 || fd >= MOST_FILES) return fd;
  kind_of[fd] = 0;
  if (file >= 0) {
    kind_of[fd] = (signed char)(file + 1);
    if (!there && (flags & O_CREAT)) {
      pthread_mutex_lock(&lock);
      put('C', file, 0, 0, NULL);
      pthread_mutex_unlock(&lock);
    }
  } else {
    struct stat is;
    const char *root = getenv("WRITE_FOLDER");
    if (root && !strcmp(root, path) && fstat(fd, &is) == 0 && S_ISDIR(is.st_mode)) kind_of[fd] = 3;
  }
  return fd;
}

#define OPEN_BODY(folder)                                                                                              \
  int mode = 0;                                                                                                        \
  if (flags & (O_CREAT | __O_TMPFILE)) {                                                                               \
    va_list list;                                                                                                      \
    va_start(list, flags);                                                                                             \
    mode = va_arg(list, int);                                                                                          \
    va_end(list);                                                                                                      \
  }                                                                                                                    \
  return opened(path, flags, mode, folder);

int open(const char *path, int flags, ...) { OPEN_BODY(AT_FDCWD) }
int open64(const char *path, int flags, ...) { OPEN_BODY(AT_FDCWD) }
int openat(int folder, const char *path, int flags, ...) { OPEN_BODY(folder) }
int openat64(int folder, const char *path, int flags, ...) { OPEN_BODY(folder) }

int close(int fd) {
  if (fd >= 0 && fd < MOST_FILES) kind_of[fd] = 0;
  return syscall(SYS_close, fd);
}

static ssize_t write_at(int fd, const void *bytes, size_t length, off_t offset) {
  int file = ours(fd);
  if (!file) return syscall(SYS_pwrite64, fd, bytes, length, offset);
  int failing = fault(0);
  if (failing) {
    errno = failing;
    return -1;
  }
  pthread_mutex_lock(&lock);
  put('W', file - 1, (uint64_t)offset, length, bytes);
  ssize_t done = syscall(SYS_pwrite64, fd, bytes, length, offset);
  pthread_mutex_unlock(&lock);
  return done;
}
ssize_t pwrite(int fd, const void *bytes, size_t length, off_t offset) { return write_at(fd, bytes, length, offset); }
ssize_t pwrite64(int fd, const void *bytes, size_t length, off_t offset) { return write_at(fd, bytes, length, offset); }

static int truncate_at(int fd, off_t length) {
  int file = ours(fd);
  if (!file) return syscall(SYS_ftruncate, fd, length);
  int failing = fault(0);
  if (failing) {
    errno = failing;
    return -1;
  }
  pthread_mutex_lock(&lock);
  put('T', file - 1, (uint64_t)length, 0, NULL);
  int done = syscall(SYS_ftruncate, fd, length);
  pthread_mutex_unlock(&lock);
  return done;
}
int ftruncate(int fd, off_t length) { return truncate_at(fd, length); }
int ftruncate64(int fd, off_t length) { return truncate_at(fd, length); }

static int synced(int fd, long call) {
  int file = ours(fd);
  if (!file) return syscall(call, fd);
  int failing = fault(1);
  if (failing) {
    errno = failing;
    return -1;
  }
  pthread_mutex_lock(&lock);
  int done = syscall(call, fd);
  if (done == 0) put(file == 3 ? 'D' : 'S', file - 1, 0, 0, NULL);
  pthread_mutex_unlock(&lock);
  return done;
}
int fsync(int fd) { return synced(fd, SYS_fsync); }
int fdatasync(int fd) { return synced(fd, SYS_fdatasync); }

int unlink(const char *path) {
  int file = file_of_path(path);
  if (file < 0) return syscall(SYS_unlinkat, AT_FDCWD, path, 0);
  pthread_mutex_lock(&lock);
  put('U', file, 0, 0, NULL);
  int done = syscall(SYS_unlinkat, AT_FDCWD, path, 0);
  pthread_mutex_unlock(&lock);
  return done;
}
