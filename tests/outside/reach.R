# Holds the band of the walk's fitted curve (src/study/reach.h, reach_at) against R: walks that
# chance made, the curve by glm with the weights that the model says, its standard error by predict,
# the band by Student's quantile on the logit scale, plogis of both ends.  Bursts are worked out anew
# from the blocks; the scatter between stops is taken as found.
#
# usage: Rscript reach.R PROBE

set.seed(27)
blocks <- 5

walk_of <- function(slope, middle, packets) {
  metres <- 30 * 1.35^(0:7)
  share <- plogis(qlogis(.1) + slope * log10(metres / middle) + rnorm(8, 0, .3))
  list(metres = metres, packets = matrix(packets, 8, blocks),
       lost = t(sapply(share, function(p) rbinom(blocks, packets, plogis(qlogis(p) + rnorm(blocks, 0, .2))))))
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
  squares <- ((w$lost - w$packets * p)^2 / (w$packets * p * (1 - p)))[some, ]
  max(1, sum(squares) / (sum(some) * (blocks - 1)))
}

band_of <- function(w, bursts, between, places) {
  d <- data.frame(x = log10(w$metres), lost = rowSums(w$lost), packets = rowSums(w$packets))
  d$by <- 1
  for (round in 1:200) {
    fit <- suppressWarnings(glm(cbind(lost / by, (packets - lost) / by) ~ x, binomial, d,
                                control = list(epsilon = 1e-14, maxit = 60)))
    p <- fitted(fit)
    before <- d$by
    d$by <- bursts + d$packets * between^2 * p * (1 - p)
    if (max(abs(d$by / before - 1)) < 1e-12) break
  }
  at <- predict(fit, data.frame(x = log10(places)), se.fit = TRUE)
  half <- qt(.975, 8 - 2) * at$se.fit
  rbind(plogis(at$fit), plogis(at$fit - half), plogis(at$fit + half))
}

places <- c(30, 60, 83, 120, 245)
walks <- lapply(1:40, function(i) walk_of(c(5, 10, 20)[i %% 3 + 1], runif(1, 55, 140), 100))
answers <- system2(commandArgs(TRUE)[1], input = vapply(walks, line_of, "", places), stdout = TRUE)
held <- 0
worst <- 0
for (i in seq_along(walks)) {
  got <- as.numeric(strsplit(answers[i], " ")[[1]])
  if (got[6] < 0) next # no fit, or none that is true to the stops
  stopifnot(abs(got[2] / bursts_of(walks[[i]]) - 1) < 1e-9)
  expected <- band_of(walks[[i]], got[2], got[3], places)
  # Compared as logits: shares near 0 and 1 would hide what differs.
  apart <- max(abs(qlogis(got[-(1:5)]) - qlogis(c(expected))))
  if (apart > 1e-4 && worst <= 1e-4) cat("walk", i, "differs by", apart, "logits\n  got     ", got[-(1:5)], "\n  expected", expected, "\n")
  held <- held + 1
  worst <- max(worst, apart)
}
cat(held, "bands of", length(walks), "walks; worst", worst, "logits apart\n")
quit(status = if (held >= 20 && worst <= 1e-4) 0 else 1)
