# Makes tests/reference/data/vegan_bci.csv and stratified_tables.csv with R and its package vegan:
#   Rscript tests/outside/makers/vegan.R FOLDER
# Of the example data only the incidence frequencies and the numbers of uniques by plot are written.
suppressMessages(library(vegan))
folder <- commandArgs(TRUE)[1]
data(BCI)
out <- character()
put <- function(what, key, value) {
  out <<- c(out, sprintf("%s,%s,%s", what, key, format(value, digits = 15, trim = TRUE)))
}
present <- BCI > 0
frequency <- colSums(present)
frequency <- frequency[frequency > 0]
for (k in sort(unique(frequency))) put("species_in_plots", k, sum(frequency == k))
uniques <- rowSums(present[, names(frequency)[frequency == 1], drop = FALSE])
for (k in sort(unique(uniques))) put("plots_with_uniques", k, sum(uniques == k))
pool <- specpool(BCI)
for (name in names(pool)) put("specpool", name, pool[[name]])
chao <- specaccum(BCI, method = "exact", gamma = "chao", conditioned = FALSE)
for (t in seq_along(chao$richness)) put("exact_richness", t, chao$richness[t])
for (t in seq_along(chao$sd)) put("exact_sd_unconditional_chao", t, chao$sd[t])
# plots 1 to 20 against 21 to 50: what both share
a <- colSums(present[1:20, ]); b <- colSums(present[21:50, ])
put("first_20", "species", sum(a > 0)); put("last_30", "species", sum(b > 0))
put("pair", "shared", sum(a > 0 & b > 0))
put("pair", "sorensen_distance", as.numeric(vegdist(rbind(a, b), "bray", binary = TRUE)))
put("pair", "jaccard_distance", as.numeric(vegdist(rbind(a, b), "jaccard", binary = TRUE)))
writeLines(c(
  paste0("# Barro Colorado Island tree counts, 50 plots of 1 ha (Condit et al. 2002), as in R package vegan ",
         packageVersion("vegan"), ": incidence"),
  "# frequencies, and what specpool(), specaccum(method = \"exact\", gamma = \"chao\",\n# conditioned = FALSE) and vegdist() give.",
  "# Made by tests/outside/makers/vegan.R.",
  "what,key,value", out), file.path(folder, "vegan_bci.csv"))

# stratified two-by-two tables: exact conditional tests of base R
out <- character()
strata <- function(name, tables) {
  e <- mantelhaen.test(tables, exact = TRUE)
  g <- mantelhaen.test(tables, exact = TRUE, alternative = "greater")
  l <- mantelhaen.test(tables, exact = TRUE, alternative = "less")
  m <- mantelhaen.test(tables, correct = FALSE)
  for (k in seq_len(dim(tables)[3])) out <<- c(out, sprintf("%s,table,%s", name,
    paste(tables[1, 1, k], tables[1, 2, k], tables[2, 1, k], tables[2, 2, k], sep = " ")))
  value <- function(what, x) out <<- c(out, sprintf("%s,%s,%s", name, what, format(x, digits = 12, trim = TRUE)))
  value("exact_odds_ratio", e$estimate); value("exact_low95", e$conf.int[1]); value("exact_high95", e$conf.int[2])
  value("exact_p_greater", g$p.value); value("exact_p_less", l$p.value)
  value("pooled_odds_ratio", m$estimate); value("pooled_low95", m$conf.int[1]); value("pooled_high95", m$conf.int[2])
  value("pooled_p", m$p.value)
}
strata("rabbits", array(c(0, 0, 6, 5, 3, 0, 3, 6, 6, 2, 0, 4, 5, 6, 1, 0, 2, 5, 0, 0), dim = c(2, 2, 5)))
strata("admissions", aperm(UCBAdmissions, c(2, 1, 3)))
set.seed(7)
for (n in 1:4) {
  k <- 12 * n
  strata(paste0("random", n), array(rbinom(4 * k, c(2, 3, 6, 9), 0.5), dim = c(2, 2, k)))
}
writeLines(c(
  paste0("# Strata of two by two tables, and what mantelhaen.test() of ", R.version.string, " gives: exact conditional"),
  "# and pooled (Mantel and Haenszel 1959; Robins, Breslow and Greenland 1986). rabbits: Mantel 1963, as in the",
  "# help page of mantelhaen.test; admissions: Bickel, Hammel and O'Connell 1975, data UCBAdmissions.",
  "# Made by tests/outside/makers/vegan.R.",
  "of,what,value", out), file.path(folder, "stratified_tables.csv"))
