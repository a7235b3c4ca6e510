package trend

// Variance is that of Kendall's S.
var Variance = variance
