// Heat, entropy and chemical equilibrium of ten gases (docs/theory/combustion.md, section 1).
#include "physics/combustion/internal/species.h"

#include <Eigen/Dense>
#include <cmath>

namespace fuelwright::physics::gas {
namespace {

using Coefficients = std::array<double, 7>;
struct Polynomials {
  Coefficients low;   // 200..1000 K
  Coefficients high;  // 1000..5000 K
};

// From memory, see the header.
constexpr std::array<Polynomials, kSpecies> kPolynomials{{
    // CO2
    {{2.35677352, 8.98459677e-3, -7.12356269e-6, 2.45919022e-9, -1.43699548e-13, -4.83719697e4,
      9.90105222},
     {3.85746029, 4.41437026e-3, -2.21481404e-6, 5.23490188e-10, -4.72084164e-14, -4.87591660e4,
      2.27163806}},
    // H2O
    {{4.19864056, -2.03643410e-3, 6.52040211e-6, -5.48797062e-9, 1.77197817e-12, -3.02937267e4,
      -8.49032208e-1},
     {3.03399249, 2.17691804e-3, -1.64072518e-7, -9.70419870e-11, 1.68200992e-14, -3.00042971e4,
      4.96677010}},
    // N2
    {{3.298677, 1.4082404e-3, -3.963222e-6, 5.641515e-9, -2.444854e-12, -1.0208999e3, 3.950372},
     {2.926640, 1.4879768e-3, -5.684760e-7, 1.0097038e-10, -6.753351e-15, -9.227977e2, 5.980528}},
    // O2
    {{3.78245636, -2.99673416e-3, 9.84730201e-6, -9.68129509e-9, 3.24372837e-12, -1.06394356e3,
      3.65767573},
     {3.28253784, 1.48308754e-3, -7.57966669e-7, 2.09470555e-10, -2.16717794e-14, -1.08845772e3,
      5.45323129}},
    // CO
    {{3.57953347, -6.10353680e-4, 1.01681433e-6, 9.07005884e-10, -9.04424499e-13, -1.43440860e4,
      3.50840928},
     {2.71518561, 2.06252743e-3, -9.98825771e-7, 2.30053008e-10, -2.03647716e-14, -1.41518724e4,
      7.81868772}},
    // H2
    {{2.34433112, 7.98052075e-3, -1.94781510e-5, 2.01572094e-8, -7.37611761e-12, -9.17935173e2,
      6.83010238e-1},
     {3.33727920, -4.94024731e-5, 4.99456778e-7, -1.79566394e-10, 2.00255376e-14, -9.50158922e2,
      -3.20502331}},
    // OH
    {{3.99201543, -2.40131752e-3, 4.61793841e-6, -3.88113333e-9, 1.36411470e-12, 3.61508056e3,
      -1.03925458e-1},
     {3.09288767, 5.48429716e-4, 1.26505228e-7, -8.79461556e-11, 1.17412376e-14, 3.85865700e3,
      4.47669610}},
    // O
    {{3.16826710, -3.27931884e-3, 6.64306396e-6, -6.12806624e-9, 2.11265971e-12, 2.91222592e4,
      2.05193346},
     {2.56942078, -8.59741137e-5, 4.19484589e-8, -1.00177799e-11, 1.22833691e-15, 2.92175791e4,
      4.78433864}},
    // H
    {{2.5, 0, 0, 0, 0, 2.54736599e4, -4.46682853e-1},
     {2.5, 0, 0, 0, 0, 2.54736599e4, -4.46682853e-1}},
    // NO
    {{4.21847630, -4.63897600e-3, 1.10410220e-5, -9.33613540e-9, 2.80357700e-12, 9.84462300e3,
      2.28084640},
     {3.26060560, 1.19110430e-3, -4.29170480e-7, 6.94576690e-11, -4.03360990e-15, 9.92097460e3,
      6.36930270}},
}};

constexpr double kJoin_k = 1000;
constexpr double kStandardPressure_pa = 101325;

const Coefficients& coefficients(Species s, double t_k) {
  return t_k < kJoin_k ? kPolynomials[s].low : kPolynomials[s].high;
}

constexpr int kUnknowns = kElements + 1;
constexpr int kMostSteps = 200;
constexpr double kSettled = 1e-10;    // of the logarithm of every element's amount
constexpr double kLongestStep = 2.0;  // in a logarithm of the amounts

}  // namespace

const std::array<std::array<int, kElements>, kSpecies> kAtoms{{{1, 0, 2, 0},
                                                               {0, 2, 1, 0},
                                                               {0, 0, 0, 2},
                                                               {0, 0, 2, 0},
                                                               {1, 0, 1, 0},
                                                               {0, 2, 0, 0},
                                                               {0, 1, 1, 0},
                                                               {0, 0, 1, 0},
                                                               {0, 1, 0, 0},
                                                               {0, 0, 1, 1}}};

double heat_capacity(Species s, double t_k) {
  const Coefficients& a = coefficients(s, t_k);
  return kGasConstant * (a[0] + t_k * (a[1] + t_k * (a[2] + t_k * (a[3] + t_k * a[4]))));
}

double enthalpy(Species s, double t_k) {
  const Coefficients& a = coefficients(s, t_k);
  const double t = t_k;
  return kGasConstant *
         (t * (a[0] + t * (a[1] / 2 + t * (a[2] / 3 + t * (a[3] / 4 + t * a[4] / 5)))) + a[5]);
}

double gibbs_over_rt(Species s, double t_k) {
  const Coefficients& a = coefficients(s, t_k);
  const double t = t_k;
  const double entropy =
      a[0] * std::log(t) + t * (a[1] + t * (a[2] / 2 + t * (a[3] / 3 + t * a[4] / 4))) + a[6];
  return enthalpy(s, t_k) / (kGasConstant * t_k) - entropy;
}

bool equilibrium(const Elements& b, double t_k, double p_pa, Potentials& start, Moles& moles) {
  using Matrix = Eigen::Matrix<double, kUnknowns, kUnknowns>;
  using Vector = Eigen::Matrix<double, kUnknowns, 1>;
  std::array<double, kSpecies> g{};
  for (int i = 0; i < kSpecies; ++i) g[i] = gibbs_over_rt(static_cast<Species>(i), t_k);
  if (!start.known) {
    // Potentials that give plausible CO, H2O, N2 and O2; Newton does the rest.
    start.per_element[kNitrogen] = g[kN2] / 2;
    start.per_element[kOxygen] = (g[kO2] - 5) / 2;
    start.per_element[kHydrogen] = (g[kH2O] - 2 - start.per_element[kOxygen]) / 2;
    start.per_element[kCarbon] = g[kCO2] - 2 - 2 * start.per_element[kOxygen];
    start.log_moles = std::log(35.0);  // mol/kg of ordinary exhaust
    start.known = true;
  }
  const double log_p = std::log(p_pa / kStandardPressure_pa);
  for (int step = 0; step < kMostSteps; ++step) {
    const double n = std::exp(start.log_moles);
    Elements sum{};
    double all = 0;
    Matrix slope = Matrix::Zero();
    for (int i = 0; i < kSpecies; ++i) {
      double exponent = -g[i] - log_p;
      for (int j = 0; j < kElements; ++j) exponent += kAtoms[i][j] * start.per_element[j];
      const double x = std::exp(std::min(exponent, 50.0));  // mole fraction (combustion.2)
      moles[i] = n * x;
      all += x;
      for (int j = 0; j < kElements; ++j) {
        sum[j] += kAtoms[i][j] * n * x;
        slope(kElements, j) += kAtoms[i][j] * x;
        for (int k = 0; k < kElements; ++k) slope(j, k) += kAtoms[i][j] * kAtoms[i][k] * n * x;
      }
    }
    Vector f;
    for (int j = 0; j < kElements; ++j) {
      f[j] = std::log(sum[j] / b[j]);
      for (int k = 0; k < kElements; ++k) slope(j, k) /= sum[j];
      slope(j, kElements) = 1;
      slope(kElements, j) /= all;
    }
    f[kElements] = std::log(all);
    if (f.cwiseAbs().maxCoeff() < kSettled) return true;
    Vector d = slope.partialPivLu().solve(-f);
    const double longest = d.cwiseAbs().maxCoeff();
    if (!(longest < 1e6)) return false;
    if (longest > kLongestStep) d *= kLongestStep / longest;
    for (int j = 0; j < kElements; ++j) start.per_element[j] += d[j];
    start.log_moles += d[kElements];
  }
  return false;
}

}  // namespace fuelwright::physics::gas
