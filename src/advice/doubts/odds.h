/// From what a fit says about one number to how likely it is that something is wrong.
///
/// An unknown a is about 0 when all is well, N(0, u^2): no model is perfect; and N(0, t^2) when
/// not, only its positive half if the fault has one direction. With the data's own N(m, v) of it,
/// and z = m t/(v (v + t^2))^1/2 the middle of what the second belief makes of them, in its
/// spreads:
///
///   ln B = ln((v + u^2)/(v + t^2))/2 + m^2/2 (1/(v + u^2) - 1/(v + t^2)) [+ ln(2 Phi(z))]
///                                                                                    (doubts.3)
///
/// Two sharp claims a = p and a = q against the same data, likelihood N(m, v):
///
///   ln B = ln N(m; q, v + t_q^2) - ln N(m; p, v + t_p^2)   for q +- t_q against p +- t_p
///   (doubts.4) P = o B/(1 + o B),   o the odds before looking (doubts.5)
///
/// Source: Bayes' rule for Gaussians.
#pragma once

namespace fuelwright::advice::doubts {

/// A Gaussian about one number.
struct About {
  double mean = 0;
  double variance = 1;  ///< above 0
};

/// ln B that it is larger in size, or larger, than usual (doubts.3). `usual_sd`: u, `fault_sd`: t.
double ln_not_zero(const About& likelihood, double usual_sd, double fault_sd);
double ln_above_zero(const About& likelihood, double usual_sd, double fault_sd);
/// ln B for `claim` against `usual` (doubts.4), each with its own variance, 0 or more.
double ln_claim(const About& likelihood, const About& claim, const About& usual);
/// What the data alone say, a posterior's prior N(mean, sd^2) taken out again; a wide Gaussian if
/// the data said nothing.
About likelihood_of(const About& posterior, const About& prior);
/// (doubts.5); `before`: how probable it was before looking, 0..1.
double probability(double ln_b, double before);

}  // namespace fuelwright::advice::doubts
