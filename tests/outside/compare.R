# Holds airleash compare against R: blocks that chance made, written as baselines, and every figure
# of the answer worked out anew by the formulas that src/study/compare.h and side.h name: all ways to
# deal the labels out (combn), autocorrelation (acf), Student's t (qt, pt), MOVER.
#
# usage: Rscript compare.R AIRLEASH

airleash <- commandArgs(TRUE)[1]
folder <- tempfile()
dir.create(folder)

# The order of the packets unknown, so that only blocks tell.
write_baseline <- function(path, lost, packets) {
  writeLines(c("airleash-baseline 1", "recording", "name R", "block_ms 2000", "counted 1",
               paste("got", sum(packets - lost)), paste("lost", sum(lost)),
               paste("unordered_lost", sum(lost)), "evidence counters", "rate_hz 50",
               paste("block", packets - lost, lost, "0 0 0 0 0 0 0 0"),
               "block 0 0 0 0 0 0 0 0 0 0", "end"), path)
}

share <- function(s) sum(s$lost) / sum(s$packets)

# How many neighbours count as one: both sides together, each about its own mean.
alike <- function(sides) {
  products <- 0
  for (s in sides) {
    off <- s$lost - share(s) * s$packets
    lag <- seq_len(64) - 1
    own <- sapply(lag, function(k) if (k < length(off)) sum(head(off, length(off) - k) * tail(off, length(off) - k)) else 0)
    products <- products + own
  }
  n <- sum(sapply(sides, function(s) length(s$lost)))
  r <- products / products[1]
  found <- 1
  for (round in 1:5) {
    bias <- length(sides) / n * found
    total <- -1
    for (k in seq(0, 62, 2)) {
      if (k >= n / length(sides) / 2) break
      pair <- r[k + 1] + r[k + 2] + bias * (if (k > 0) 2 else 1)
      if (pair <= 0) break
      total <- total + 2 * pair
    }
    found <- max(1, total)
  }
  found
}

spread <- function(s, alike) {
  n <- length(s$lost)
  off <- s$lost - share(s) * s$packets
  list(se = sqrt(alike * n / (n - 1) * sum(off^2)) / sum(s$packets),
       df = max(1, n / (2 * alike - 1) - 1))
}

limits <- function(s, alike) {
  one <- spread(s, alike)
  reach <- qt(.975, one$df) * one$se
  c(max(0, share(s) - reach), min(1, share(s) * exp(min(100, reach / share(s)))))
}

expected <- function(a, b) {
  k <- alike(list(a, b))
  la <- limits(a, k)
  lb <- limits(b, k)
  pa <- share(a)
  pb <- share(b)
  lost <- c(a$lost, b$lost)
  packets <- c(a$packets, b$packets)
  n <- length(lost)
  ways <- combn(n, length(b$lost))
  d <- apply(ways, 2, function(i) sum(lost[i]) / sum(packets[i]) - sum(lost[-i]) / sum(packets[-i]))
  p <- mean(abs(d) >= abs(pb - pa) * (1 - 1e-10))
  if (k > 1) {
    se <- sqrt(spread(a, k)$se^2 + spread(b, k)$se^2)
    p <- max(p, 2 * pt(-abs(pb - pa) / se, max(1, n / (2 * k - 1) - 2)))
  }
  low <- pb - pa - sqrt((pb - lb[1])^2 + (la[2] - pa)^2)
  high <- pb - pa + sqrt((lb[2] - pb)^2 + (pa - la[1])^2)
  # A ratio is a limit where the difference of b and ratio times a has a limit of 0.
  edge <- function(side, from, to) uniroot(function(q) if (side > 0)
    pb - q * pa + sqrt((lb[2] - pb)^2 + q^2 * (pa - la[1])^2) else
    pb - q * pa - sqrt((pb - lb[1])^2 + q^2 * (la[2] - pa)^2), c(from, to), tol = 1e-12)$root
  ratio_low <- if (lb[1] > 0) edge(-1, 0, pb / pa) else 0
  ratio_high <- if (la[1] > 0) edge(1, pb / pa, 1e6) else NA
  c(difference.rate = pb - pa, difference.low = low, difference.high = high,
    ratio.value = pb / pa, ratio.low = ratio_low, ratio.high = ratio_high, p = p, alike = k)
}

# Numbers of a flat path out of the JSON, which base R can't read.
figure <- function(json, path) {
  parts <- strsplit(path, ".", fixed = TRUE)[[1]]
  if (length(parts) == 2) {
    from <- grep(sprintf('^  "%s": \\{', parts[1]), json)
    json <- json[from:length(json)]
    key <- sprintf('^    "%s": ', parts[2])
  } else key <- sprintf('^  "%s": ', path)
  text <- sub(",$", "", sub(key, "", grep(key, json, value = TRUE)[1]))
  if (text == "null") NA else as.numeric(text)
}

blocks <- function(n, loss, hang) {
  state <- as.numeric(stats::filter(rnorm(n + 20), hang, method = "recursive"))[-(1:20)]
  packets <- sample(c(98, 99, 100, 100, 100, 101), n, replace = TRUE)
  list(packets = packets, lost = rbinom(n, packets, pmin(.9, loss * exp(.4 * state))))
}

set.seed(7)
bad <- 0
cases <- list(c(8, 8, .05, .05, 0), c(8, 8, .1, .03, 0), c(8, 9, .2, .2, .7), c(9, 8, .02, .1, .5),
              c(8, 8, .3, .1, .8), c(8, 8, .08, .05, -.3))
for (case in cases) {
  a <- blocks(case[1], case[3], case[5])
  b <- blocks(case[2], case[4], case[5])
  write_baseline(file.path(folder, "a"), a$lost, a$packets)
  write_baseline(file.path(folder, "b"), b$lost, b$packets)
  json <- system2(airleash, c("compare", file.path(folder, "a"), "--with", file.path(folder, "b"), "--json"), stdout = TRUE)
  wanted <- expected(a, b)
  got <- sapply(names(wanted), function(path) figure(json, path))
  # 17 blocks have more ways than are tried one by one: then chance tries some of them.
  tolerance <- ifelse(names(wanted) == "p" & sum(case[1:2]) > 16, .02, 1e-6)
  same <- ifelse(is.na(wanted), is.na(got), !is.na(got) & abs(got - wanted) <= tolerance * pmax(1e-3, abs(wanted)) + ifelse(tolerance > 1e-3, .01, 0))
  if (!all(same)) {
    bad <- bad + 1
    print(rbind(wanted, got))
  }
}
cat(length(cases), "comparisons,", bad, "answered differently\n")
quit(status = if (bad) 1 else 0)
