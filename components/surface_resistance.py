"""Surface resistance of normal metals at microwave frequencies, cold and plated ones too."""

import numpy as np

from components.constants import MU0


def surface_resistance(*, frequency_hz, resistivity_ohm_m, mean_free_path_product_ohm_m2=None):
    """Return the surface resistance, ohm, of bulk metal (arrays broadcast).

    Classical sqrt(pi f mu0 rho) (D. M. Pozar, Microwave Engineering); with the product of
    resistivity and mean free path given, the anomalous skin effect that stops pure cold metal from
    following it (R. G. Chambers, Proc. R. Soc. A 215, 481, 1952): with
    alpha = 3/4 mu0 omega (rho l)^2 / rho^3, R = R_inf (1 + 1.157 alpha^-0.2757) for alpha >= 3.
    """
    omega = 2 * np.pi * np.asarray(frequency_hz, float)
    rho = np.asarray(resistivity_ohm_m, float)
    classical = np.sqrt(omega * MU0 * rho / 2)
    product = mean_free_path_product_ohm_m2
    if product is None:
        return classical
    alpha = 0.75 * MU0 * omega * product**2 / rho**3
    # In units of the classical value R_inf is (alpha / (8 pi^2))^(1/6).
    bent = np.maximum(alpha, 3.0)
    excess = (bent / (8 * np.pi**2)) ** (1 / 6) * (1 + 1.157 * bent**-0.2757)
    # Below alpha = 3 the fit does not hold: go to the classical limit in proportion to alpha.
    return classical * np.where(alpha >= 3.0, excess, 1 + (excess - 1) * alpha / 3.0)


def plated_resistance(*, frequency_hz, plating_ohm, plating_m, base_ohm):
    """Return the surface resistance, ohm, of a plated metal (arrays broadcast).

    `plating_ohm`, `base_ohm`: surface resistances of the two metals in bulk (0: superconducting);
    `plating_m`: thickness. A layer on a half space, as a transmission line: Z = Z1 (Z2 + Z1 tanh
    g d) / (Z1 + Z2 tanh g d), Z = (1 + j) R, g = (1 + j) / skin depth (Pozar, section 2.7).
    """
    r1, r2 = np.asarray(plating_ohm, float), np.asarray(base_ohm, float)
    normal = r1 > 0
    r1 = np.where(normal, r1, 1.0)
    # R = omega mu0 depth / 2, so an anomalous R gives the depth of the classical metal alike.
    depth = 2 * r1 / (2 * np.pi * np.asarray(frequency_hz, float) * MU0)
    turn = np.tanh((1 + 1j) * plating_m / depth)
    layer, base = (1 + 1j) * r1, (1 + 1j) * r2
    return np.where(normal, np.real(layer * (base + layer * turn) / (layer + base * turn)), 0.0)
