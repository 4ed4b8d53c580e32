# Holds src/stat/ against R, on its own data sets (package datasets) and on seeded random series.
#
# usage: Rscript stat.R PROBE

questions <- list()
ask <- function(word, numbers, expected, tolerance = 1e-9) {
  line <- paste(c(word, formatC(numbers, digits = 17, format = "g")), collapse = " ")
  questions[[length(questions) + 1]] <<- list(line = line, expected = expected, tolerance = tolerance)
}

# Kendall's S, its variance and tau-b out of cor.test, whose z has no continuity correction; Sen's
# slope from the matrix of all pairs.
ask_trend <- function(x) {
  i <- seq_along(x)
  test <- cor.test(i, x, method = "kendall", exact = FALSE)
  s <- sum(sign(outer(x, x, "-"))[outer(i, i, ">")])
  slopes <- (outer(x, x, "-") / outer(i, i, "-"))[outer(i, i, ">")]
  ask("trend", x, c(s, (s / test$statistic)^2, test$estimate, median(slopes)))
}

# r1 as acf() has it: over the full sum of squares.
ask_moments <- function(x)
  ask("moments", x, c(mean(x), sd(x), acf(x, plot = FALSE)$acf[2]), 1e-10)

ask_quantiles <- function(x)
  for (p in c(0, .05, .1, .25, .5, .9, .99, 1)) ask("quantile", c(p, x), quantile(x, p, type = 7))

# What a block bootstrap would simulate: the mean of independent draws among the block means.
block_means <- function(x, length, round) {
  begins <- if (round) seq_along(x) else seq_len(length(x) - length + 1)
  sapply(begins, function(b) mean(x[(b + seq_len(length) - 2) %% length(x) + 1]))
}
ask_blocks <- function(x, length) {
  k <- length(x) / length
  expected <- unlist(lapply(c(TRUE, FALSE), function(round) {
    means <- block_means(x, length, round)
    c(mean(means), mean((means - mean(means))^2) / k)
  }))
  ask("blocks", c(length, x), expected)
}

# The same by simulation, B = 4000, within 5 %.
simulate_blocks <- function(x, length) {
  means <- block_means(x, length, TRUE)
  draws <- replicate(4000, mean(sample(means, length(x) / length, replace = TRUE)))
  ask("blocks", c(length, x), c(mean(x), var(draws), NA, NA), 0.05 * 2)
}

# The profile likelihood of a two-state chain by R's own searches, joined with Fay and Feuer's limits.
chain_limits <- function(n00, n01, n10, n11, level) {
  term <- function(n, x) if (n == 0) 0 else n * log(x)
  at <- function(r, p) term(n01, p) + term(n00, 1 - p) + term(n10, r) + term(n11, 1 - r)
  best <- function(l) { # of log odds
    c <- exp(l)
    optimize(function(r) at(r, c * r), c(0, min(1, 1 / c)), maximum = TRUE, tol = 1e-12)$objective
  }
  p <- n01 / (n01 + n00)
  r <- n10 / (n10 + n11)
  f <- function(l) 2 * (at(r, p) - best(l)) - qchisq(level, 1)
  top <- log(p / r)
  plogis(c(uniroot(f, c(top - 9, top), tol = 1e-10)$root, uniroot(f, c(top, top + 9), tol = 1e-10)$root))
}
loss_interval <- function(gaps, runs, level) {
  side <- (1 - level) / 2
  m <- length(runs)
  chain <- chain_limits(sum(gaps) - m, m, m, sum(runs) - m, level)
  y <- sum(runs)
  v <- sum(runs^2)
  w <- max(runs, 2 * mean(runs))
  sums <- c(v / (2 * y) * qchisq(side, 2 * y^2 / v),
            (v + w^2) / (2 * (y + w)) * qchisq(1 - side, 2 * (y + w)^2 / (v + w^2)))
  both <- sums / (sums + sum(gaps))
  c(y / (y + sum(gaps)), min(chain[1], both[1]), max(chain[2], both[2]))
}
ask_loss <- function(m, mean_run, mean_gap, level) {
  gaps <- 1 + rgeom(m, 1 / mean_gap)
  runs <- 1 + rgeom(m, 1 / mean_run)
  ask("loss", c(level, rbind(gaps, runs)), loss_interval(gaps, runs, level), 1e-6)
}

ask_line <- function(x, y) {
  s <- summary(lm(y ~ x))
  ask("line", c(x, y), c(s$coefficients[, 1], s$coefficients[, 2], s$sigma, s$r.squared), 1e-9)
}

ask_welch <- function(x, y, level) {
  d <- t.test(x, y, conf.level = level)
  r <- mean(x) / mean(y)
  vx <- var(x) / length(x)
  vy <- var(y) / length(y)
  df <- (vx + r^2 * vy)^2 / (vx^2 / (length(x) - 1) + r^4 * vy^2 / (length(y) - 1))
  t <- qt((1 + level) / 2, df)
  limits <- rev(Re(polyroot(c(mean(x)^2 - t^2 * vx, -2 * mean(x) * mean(y), mean(y)^2 - t^2 * vy))))
  bounded <- t^2 * vy < mean(y)^2
  ask("welch", c(level, length(x), x, y),
      c(mean(x) - mean(y), d$statistic, d$parameter, d$p.value, d$conf.int, r,
        if (bounded) sort(limits) else c(-Inf, Inf)), 1e-7)
}

same <- function(question, answer) {
  got <- suppressWarnings(as.numeric(strsplit(answer, " ")[[1]]))
  expected <- unname(question$expected)
  counts <- !is.na(expected)
  length(got) == length(expected) && !anyNA(got) &&
    all((got == expected | abs(got - expected) <= question$tolerance * abs(expected) + 1e-15)[counts])
}

set.seed(4)
series <- list(c(Nile), c(LakeHuron), c(lynx), morley$Speed / 1000 + 299, cars$dist,
               round(rnorm(60), 1), runif(31))
for (x in series) {
  ask_trend(x)
  ask_moments(x)
  ask_quantiles(x)
  for (length in c(1, 5, 7)) ask_blocks(x, length)
}
simulate_blocks(c(Nile), 5)
for (x in c(0, 1, 7, 100, 4321))
  ask("poisson", c(x, .95), poisson.test(x)$conf.int, 1e-8)
ask("binomial", c(682, 925, .75), binom.test(682, 925, .75)$p.value)
for (m in c(1, 2, 5, 9, 10, 11, 14, 25, 80, 400))
  for (mean_run in c(1, 1.5, 8)) ask_loss(m, mean_run, 100, if (m %% 2) .95 else .9)

ask_line(cars$speed, cars$dist)
ask_line(1e5 + c(LakeHuron), seq_along(LakeHuron))
for (n in c(2, 5, 40)) {
  p <- round(runif(n)^3, 3)
  ask("holm", p, p.adjust(p, "holm"))
}
ask_welch(sleep$extra[1:10], sleep$extra[11:20], .95)
for (n in c(2, 3, 8, 30)) ask_welch(rexp(n), rexp(n + 3) + .3, if (n %% 2) .95 else .9)

lines <- vapply(questions, `[[`, "", "line")
answers <- system2(commandArgs(TRUE)[1], input = lines, stdout = TRUE)
good <- length(answers) == length(questions) & mapply(same, questions, answers)
cat(length(questions), "questions,", sum(!good), "answered differently\n")
for (i in head(which(!good), 20))
  cat(substr(lines[i], 1, 100), "\n  got     ", answers[i], "\n  expected",
      formatC(questions[[i]]$expected, digits = 15), "\n")
quit(status = if (all(good)) 0 else 1)
