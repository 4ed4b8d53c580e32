# Holds the range of a walk and the band of its curve (src/study/reach.h) against R: the same model
# and priors, integrated here by plain sums over grids of its own, place by place. Bursts are worked
# out anew from the blocks. Walks are such as chance made.
#
# usage: Rscript reach.R PROBE

set.seed(27)
blocks <- 5
limit <- .1

walk_of <- function(exponent, shadow_db, range, packets) {
  metres <- 30 * 1.35^(0:7)
  eta <- log(-log1p(-limit)) + exponent * log(10) * log10(metres / range) +
    rnorm(8, 0, shadow_db * log(10) / 10)
  list(metres = metres, packets = matrix(packets, 8, blocks),
       lost = t(sapply(-expm1(-exp(eta)), function(p) rbinom(blocks, packets, p))))
}

line_of <- function(w, places)
  paste(formatC(c(blocks, length(places), places,
                  sapply(1:8, function(i) c(w$metres[i], rbind(w$lost[i, ], w$packets[i, ])))),
                digits = 17, format = "g"), collapse = " ")

# Sum of squared residuals of a stop's blocks about its own loss, over independent packets' variance.
bursts_of <- function(w) {
  lost <- rowSums(w$lost); packets <- rowSums(w$packets)
  p <- lost / packets
  some <- lost > 0 & lost < packets
  squares <- ((w$lost - w$packets * p)^2 / (w$packets * p * (1 - p)))[some, , drop = FALSE]
  max(1, sum(squares) / (sum(some) * (blocks - 1)))
}

z <- seq(-6, 6, .03)
dz <- dnorm(z) / sum(dnorm(z))
cloglog <- function(p) log(-log1p(-p))
mean_loss <- function(eta, tau) sum(dz * -expm1(-exp(eta + tau * z)))

posterior_of <- function(w, bursts, places) {
  x <- log10(w$metres)
  lost <- rowSums(w$lost) / bursts
  arrived <- rowSums(w$packets) / bursts - lost
  ranges <- seq(min(x) - log10(3.2), max(x) + log10(5), length.out = 140)
  exponents <- exp(seq(log(1.2), log(24), length.out = 26))
  spreads <- c(seq(0, .1, .02), seq(.14, .5, .04))
  share <- c(spreads[2], diff(spreads, 2), diff(tail(spreads, 2))) / 2
  grid <- seq(-60, 20, .01)
  loss <- -expm1(-exp(grid))
  tables <- lapply(1:8, function(i) {
    l <- (if (lost[i] > 0) lost[i] * log(loss) else 0) - arrived[i] * exp(grid)
    exp(l - max(l))
  })
  at <- function(table, eta) table[pmin(pmax(round((eta + 60) / .01) + 1, 1), length(grid))]
  weight <- array(0, c(length(ranges), length(exponents), length(spreads)))
  curve <- array(0, c(dim(weight), length(places)))
  for (j in seq_along(exponents)) for (k in seq_along(spreads)) {
    b <- exponents[j] * log(10)
    tau <- b * spreads[k]
    if (tau > 6) next # places that differ by 26 dB and more
    eta0 <- uniroot(function(e) mean_loss(e, tau) - limit, c(-60, 5), tol = 1e-10)$root
    product <- rep(1, length(ranges))
    for (i in 1:8) {
      eta <- eta0 + b * (x[i] - ranges)
      product <- product * (if (tau == 0) at(tables[[i]], eta)
                            else colSums(dz * matrix(at(tables[[i]], outer(tau * z, eta, "+")), length(z))))
    }
    weight[, j, k] <- product * share[k] * exp(-(log(exponents[j] / 4) / .6)^2 / 2)
    for (q in seq_along(places))
      curve[, j, k, q] <- vapply(eta0 + b * (log10(places[q]) - ranges), mean_loss, 0, tau)
  }
  total <- apply(weight, 1, sum)
  cumulative <- cumsum(total) / sum(total)
  step <- ranges[2] - ranges[1]
  list(range = 10^approx(c(0, cumulative), c(ranges[1] - step / 2, ranges + step / 2),
                         c(.025, .05, .5, .95, .975), ties = "ordered")$y,
       band = sapply(seq_along(places), function(q) {
         value <- c(curve[, , , q]); by <- order(value)
         sums <- cumsum(c(weight)[by]) / sum(weight)
         value[by][sapply(c(.5, .025, .975), function(p) which(sums >= p)[1])]
       }))
}

places <- c(60, 120, 200)
walks <- list(walk_of(3, 0, 90, 100), walk_of(3, 3, 100, 100), walk_of(4, 6, 90, 100),
              walk_of(2.5, 4, 120, 20))
answers <- system2(commandArgs(TRUE)[1], input = vapply(walks, line_of, "", places), stdout = TRUE)
checked <- 0
good <- TRUE
for (i in seq_along(walks)) {
  got <- as.numeric(strsplit(answers[i], " ")[[1]])
  bursts <- bursts_of(walks[[i]])
  stopifnot(abs(got[2] / bursts - 1) < 1e-9)
  expected <- posterior_of(walks[[i]], bursts, places)
  told <- is.finite(got[3:7]) & got[3:7] > 0 & got[3:7] < max(walks[[i]]$metres)
  apart <- abs(log(got[3:7] / expected$range))[told]
  band <- matrix(got[-(1:7)], 3)
  off <- max(abs(cloglog(band) - cloglog(expected$band)))
  checked <- checked + sum(told)
  if (any(apart > .02) || off > .15) {
    good <- FALSE
    cat("walk", i, "\n  got     ", got[3:7], "\n  expected", expected$range, "\n")
  }
  cat("walk", i, ": metres", round(100 * max(apart, 0), 2), "% apart; band", round(off, 3), "cloglog\n")
}
cat(checked, "distances compared\n")
quit(status = if (good && checked >= 12) 0 else 1)
