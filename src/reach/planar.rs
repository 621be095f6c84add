//! Numbers of the arm's plane.

/// A number in the arm's plane: real part along base z, imaginary part along the arm's level
/// direction e = n × z. A turn by θ about n multiplies by e^{iθ}.
#[derive(Debug, Clone, Copy)]
pub(super) struct Planar {
    pub re: f64,
    pub im: f64,
}

impl Planar {
    pub fn times(self, o: Planar) -> Planar {
        Planar {
            re: self.re * o.re - self.im * o.im,
            im: self.re * o.im + self.im * o.re,
        }
    }
    pub fn conj(self) -> Planar {
        Planar {
            re: self.re,
            im: -self.im,
        }
    }
    pub fn minus(self, o: Planar) -> Planar {
        Planar {
            re: self.re - o.re,
            im: self.im - o.im,
        }
    }
    pub fn norm(self) -> f64 {
        (self.re * self.re + self.im * self.im).sqrt()
    }
    pub fn over(self, f: f64) -> Planar {
        Planar {
            re: self.re / f,
            im: self.im / f,
        }
    }
    pub fn arg(self) -> f64 {
        self.im.atan2(self.re)
    }
}
