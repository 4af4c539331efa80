/* Records what a process does to the files of one folder, in the order in which it was done.

   Loaded with LD_PRELOAD. SPURLOCK_WATCHED is the folder (ending in a slash), SPURLOCK_RECORD the
   file that the record goes to. One lock is held across each operation and its record, so that
   the record's order is the true one. A sync is recorded and not carried out: the simulation
   needs only to know that it was asked for and that it was waited for.

   A record is: one letter, the file's number (4 bytes), an offset (8), a length (4), and that many
   bytes. Letters: O opened or created (the bytes are the path), W written, T cut to the offset,
   S synced, D the folder itself synced, U unlinked (the bytes are the path). */
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
#include <sys/types.h>
#include <sys/uio.h>
#include <unistd.h>

#define FILES 4096
#define FOLDER (-2)

static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
static int watched[FILES]; /* The file's number from 1 on, FOLDER, or 0. */
static int numbers;
static int record = -1;
static char folder[4096];
static size_t folder_length;

static ssize_t (*real_pwrite)(int, const void *, size_t, off64_t);
static int (*real_ftruncate)(int, off64_t);

__attribute__((constructor)) static void begin(void) {
  /* Where offsets take two registers, their system calls differ from one machine to the next. */
  *(void **)&real_pwrite = dlsym(RTLD_NEXT, "pwrite64");
  *(void **)&real_ftruncate = dlsym(RTLD_NEXT, "ftruncate64");
  const char *where = getenv("SPURLOCK_WATCHED"), *to = getenv("SPURLOCK_RECORD");
  if (!where || !to || strlen(where) >= sizeof folder) return;
  strcpy(folder, where);
  folder_length = strlen(folder);
  record = (int)syscall(SYS_openat, AT_FDCWD, to, O_WRONLY | O_CREAT | O_APPEND, 0600);
}

static void put(char letter, int number, int64_t offset, const void *bytes, uint32_t length) {
  char head[17];
  head[0] = letter;
  memcpy(head + 1, &number, 4);
  memcpy(head + 5, &offset, 8);
  memcpy(head + 13, &length, 4);
  struct iovec parts[2] = {{head, sizeof head}, {(void *)bytes, length}};
  ssize_t wanted = (ssize_t)(sizeof head + length);
  if (syscall(SYS_writev, record, parts, length ? 2 : 1) != wanted) abort();
}

static int number_of(int fd) { return record >= 0 && fd >= 0 && fd < FILES ? watched[fd] : 0; }

static int opened(int fd, const char *path) {
  if (fd < 0 || fd >= FILES || record < 0 || !path) return fd;
  pthread_mutex_lock(&lock);
  watched[fd] = 0;
  if (!strncmp(path, folder, folder_length) && path[folder_length]) {
    watched[fd] = ++numbers;
    put('O', watched[fd], 0, path, (uint32_t)strlen(path));
  } else if (strlen(path) + 1 == folder_length && !strncmp(path, folder, folder_length - 1)) {
    watched[fd] = FOLDER;
  }
  pthread_mutex_unlock(&lock);
  return fd;
}

#define OPEN(name)                                                  \
  int name(const char *path, int flags, ...) {                      \
    va_list more;                                                   \
    va_start(more, flags);                                          \
    int mode = flags & (O_CREAT | O_TMPFILE) ? va_arg(more, int) : 0; \
    va_end(more);                                                   \
    int fd = (int)syscall(SYS_openat, AT_FDCWD, path, flags, mode); \
    return opened(fd, path);                                        \
  }
OPEN(open)
OPEN(open64)

#define OPENAT(name)                                                \
  int name(int at, const char *path, int flags, ...) {              \
    va_list more;                                                   \
    va_start(more, flags);                                          \
    int mode = flags & (O_CREAT | O_TMPFILE) ? va_arg(more, int) : 0; \
    va_end(more);                                                   \
    int fd = (int)syscall(SYS_openat, at, path, flags, mode);       \
    return opened(fd, path);                                        \
  }
OPENAT(openat)
OPENAT(openat64)

int close(int fd) {
  pthread_mutex_lock(&lock);
  if (fd >= 0 && fd < FILES) watched[fd] = 0;
  int answer = (int)syscall(SYS_close, fd);
  pthread_mutex_unlock(&lock);
  return answer;
}

static ssize_t written_at(int fd, const void *bytes, size_t count, int64_t offset) {
  int number = number_of(fd);
  if (number <= 0) return real_pwrite(fd, bytes, count, offset);
  pthread_mutex_lock(&lock);
  ssize_t done = real_pwrite(fd, bytes, count, offset);
  if (done > 0) put('W', number, offset, bytes, (uint32_t)done);
  pthread_mutex_unlock(&lock);
  return done;
}

ssize_t pwrite(int fd, const void *bytes, size_t count, off_t offset) {
  return written_at(fd, bytes, count, offset);
}

ssize_t pwrite64(int fd, const void *bytes, size_t count, off64_t offset) {
  return written_at(fd, bytes, count, offset);
}

ssize_t write(int fd, const void *bytes, size_t count) {
  int number = number_of(fd);
  if (number <= 0) return syscall(SYS_write, fd, bytes, count);
  pthread_mutex_lock(&lock);
  int64_t offset = lseek64(fd, 0, SEEK_CUR);
  ssize_t done = syscall(SYS_write, fd, bytes, count);
  if (done > 0) put('W', number, offset, bytes, (uint32_t)done);
  pthread_mutex_unlock(&lock);
  return done;
}

static int cut(int fd, int64_t length) {
  int number = number_of(fd);
  pthread_mutex_lock(&lock);
  int answer = real_ftruncate(fd, length);
  if (number > 0 && !answer) put('T', number, length, NULL, 0);
  pthread_mutex_unlock(&lock);
  return answer;
}

int ftruncate(int fd, off_t length) { return cut(fd, length); }
int ftruncate64(int fd, off64_t length) { return cut(fd, length); }

static int synced(int fd, long call) {
  int number = number_of(fd);
  if (!number) return (int)syscall(call, fd);
  pthread_mutex_lock(&lock);
  put(number == FOLDER ? 'D' : 'S', number, 0, NULL, 0);
  pthread_mutex_unlock(&lock);
  return 0;
}

int fsync(int fd) { return synced(fd, SYS_fsync); }
int fdatasync(int fd) { return synced(fd, SYS_fdatasync); }

int unlink(const char *path) {
  pthread_mutex_lock(&lock);
  int answer = (int)syscall(SYS_unlinkat, AT_FDCWD, path, 0);
  if (!answer && record >= 0 && !strncmp(path, folder, folder_length))
    put('U', 0, 0, path, (uint32_t)strlen(path));
  pthread_mutex_unlock(&lock);
  return answer;
}

int fallocate(int fd, int mode, off_t offset, off_t length) {
  (void)fd, (void)mode, (void)offset, (void)length;
  errno = EOPNOTSUPP; /* SQLite does without where it is refused, and so do the others here. */
  return -1;
}
