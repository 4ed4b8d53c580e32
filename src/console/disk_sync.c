#include "console/disk_sync.h"

#include <errno.h>
#include <pthread.h>
#include <signal.h>
#include <stdbool.h>
#include <stdlib.h>

#include "app/io.h"

struct disk_sync {
    int fd;
    pthread_t thread;
    pthread_mutex_t lock; /* of what follows */
    pthread_cond_t news;
    bool asked, over;
    int trouble;
};

static void *work(void *context) {
    struct disk_sync *s = context;
    pthread_mutex_lock(&s->lock);
    for (;;) {
        while (!s->asked && !s->over)
            pthread_cond_wait(&s->news, &s->lock);
        if (!s->asked)
            break;
        s->asked = false;
        pthread_mutex_unlock(&s->lock);
        int code = io_sync(s->fd) ? 0 : errno;
        pthread_mutex_lock(&s->lock);
        s->trouble = s->trouble != 0 ? s->trouble : code;
    }
    pthread_mutex_unlock(&s->lock);
    return NULL;
}

struct disk_sync *disk_sync_begin(int fd) {
    struct disk_sync *s = calloc(1, sizeof *s);
    sigset_t all, before;
    if (s == NULL)
        return NULL;
    s->fd = fd;
    pthread_mutex_init(&s->lock, NULL);
    pthread_cond_init(&s->news, NULL);
    sigfillset(&all); /* signals are the main thread's */
    pthread_sigmask(SIG_SETMASK, &all, &before);
    bool began = pthread_create(&s->thread, NULL, work, s) == 0;
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    if (began)
        return s;
    pthread_cond_destroy(&s->news);
    pthread_mutex_destroy(&s->lock);
    free(s);
    return NULL;
}

void disk_sync_ask(struct disk_sync *s) {
    pthread_mutex_lock(&s->lock);
    s->asked = true;
    pthread_cond_signal(&s->news);
    pthread_mutex_unlock(&s->lock);
}

int disk_sync_trouble(struct disk_sync *s) {
    pthread_mutex_lock(&s->lock);
    int code = s->trouble;
    pthread_mutex_unlock(&s->lock);
    return code;
}

int disk_sync_end(struct disk_sync *s) {
    if (s == NULL)
        return 0;
    pthread_mutex_lock(&s->lock);
    s->over = true;
    pthread_cond_signal(&s->news);
    pthread_mutex_unlock(&s->lock);
    pthread_join(s->thread, NULL);
    int code = s->trouble;
    pthread_cond_destroy(&s->news);
    pthread_mutex_destroy(&s->lock);
    free(s);
    return code;
}
