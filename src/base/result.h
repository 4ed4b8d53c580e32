/* What a call came to.  Only app/ turns a result into words for a person. */
#ifndef BASE_RESULT_H
#define BASE_RESULT_H

enum result {
    RESULT_OK,
    RESULT_MISUSE, /* the caller's own mistake: an argument outside its stated range */
    RESULT_BAD,    /* the data is not what it should be */
    RESULT_SYSTEM, /* the operating system refused; errno or a message says more */
    RESULT_FULL,   /* a fixed limit was reached */
};

#endif
