#include "view/page.h"
