# Fits each season of the given folder with mgcv: a cyclic P-spline of the time of the year, counts with
# hours as exposure. Reads season-N.csv (phase, hours, finds) and season-N.fit (smoothness, per_outing),
# writes season-N.out: the logarithm of the rate and its standard error by day with the same smoothness, then
# the smoothness and the restricted likelihood that mgcv finds the best, and the likelihood of ours.
suppressMessages(library(mgcv))
folder <- commandArgs(trailingOnly = TRUE)[1]
days <- (0:364 + 0.5) / 365

fitted_with <- function(data, per_outing, smoothness) {
  family <- if (per_outing > 0) negbin(theta = 1 / per_outing) else poisson()
  gam(finds ~ s(phase, bs = "cp", k = 24, m = c(2, 2)) + offset(log(hours)), family = family, data = data,
      method = "REML", sp = smoothness, knots = list(phase = c(0, 1)),
      control = gam.control(epsilon = 1e-12, newton = list(conv.tol = 1e-9)))
}

for (file in list.files(folder, pattern = "^season-[0-9]+\\.csv$", full.names = TRUE)) {
  data <- read.csv(file)
  of <- read.csv(sub("csv$", "fit", file))
  best <- fitted_with(data, of$per_outing, NULL)
  # mgcv scales the penalty
  scale <- best$smooth[[1]]$S.scale
  ours <- fitted_with(data, of$per_outing, of$smoothness * scale)
  at <- predict(ours, data.frame(phase = days, hours = 1), se.fit = TRUE)
  rows <- cbind(at$fit, at$se.fit)
  rows <- rbind(rows, c(best$sp / scale, -best$gcv.ubre), c(of$smoothness, -ours$gcv.ubre))
  write.table(rows, sub("csv$", "out", file), sep = ",", row.names = FALSE, col.names = FALSE)
}
